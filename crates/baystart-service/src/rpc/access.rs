//! AccessService.

use crate::fault;
use crate::page::Page;
use crate::secret;
use crate::shared::{Answered, Beside, Rpc, caller};
use baystart_core::ids::TokenId;
use baystart_proto::convert::{self, Reader, scalar, wire};
use baystart_proto::v1;
use baystart_proto::v1::access_service_server::AccessService;
use tonic::{Request, Response};

#[tonic::async_trait]
impl AccessService for Rpc {
    writes! {
        revoke_token: RevokeTokenRequest => RevokeTokenResponse { token }
    }

    async fn issue_token(
        &self,
        request: Request<v1::IssueTokenRequest>,
    ) -> Answered<v1::IssueTokenResponse> {
        let caller = caller(&request)?;
        let write = convert::issue_token(request.get_ref());
        let write = self.0.read_request(&caller, write).await?;
        let (secret, hash) = secret::fresh().map_err(fault::internal)?;
        let (mut response, replayed) = self
            .0
            .submit(
                &caller,
                write,
                Beside { secret_hash: Some(hash), ..Beside::default() },
                |done| v1::IssueTokenResponse {
                    token: done.token(),
                    secret: String::new(),
                    commit: done.commit(),
                },
            )
            .await?;
        // Kept answers hold no secret, so a repeat cannot show it.
        if !replayed {
            response.secret = secret;
        }
        Ok(Response::new(response))
    }

    async fn list_tokens(
        &self,
        request: Request<v1::ListTokensRequest>,
    ) -> Answered<v1::ListTokensResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let page = Page::read(&mut read, &self.0.limits, asked, &());
        let page = self.fields(&caller, read, page).await?;
        let after = page.after().and_then(scalar::uuid).map(TokenId);
        let mut rows =
            self.0.kept(self.0.store.list_tokens(caller.shop, after, page.fetch())).await?;
        let next_page_token = page.cut(&mut rows, |row| vec![row.id.to_string()]);
        let tokens = rows.iter().map(wire::token).collect();
        Ok(Response::new(v1::ListTokensResponse { tokens, next_page_token }))
    }
}
