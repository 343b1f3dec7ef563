//! The bodies of the RPCs, one file a service.

/// Bodies of methods that write: read by the conversion of the same name, decided, and answered with
/// what is named in braces and the commit. An `async fn` each, written as `async_trait` would.
macro_rules! writes {
    ($($name:ident: $request:ident => $response:ident { $($shown:ident),* })*) => {$(
        fn $name<'life0, 'async_trait>(
            &'life0 self,
            request: tonic::Request<v1::$request>,
        ) -> std::pin::Pin<
            Box<dyn Future<Output = $crate::shared::Answered<v1::$response>> + Send + 'async_trait>,
        >
        where
            'life0: 'async_trait,
            Self: 'async_trait,
        {
            Box::pin(self.write(request, convert::$name, |done| v1::$response {
                $($shown: done.$shown(),)*
                commit: done.commit(),
            }))
        }
    )*};
}

mod access;
mod board;
mod builds;
mod builds_read;
mod catalogue;
mod changes;
mod customer_promises;
mod export;
mod forecast;
mod import;
mod import_history;
mod lead_times;
mod ledger;
mod purchasing;
mod quotes;
mod shop;
