//! Who may call: every method of the descriptor, generically.

use crate::{Authed, reason, stand};
use baystart_proto::{METHOD_ROLES, v1};
use std::time::Duration;
use tonic::client::{Grpc, GrpcService};
use tonic::codegen::http::uri::PathAndQuery;
use tonic::transport::Channel;
use tonic::{Code, Request, Status};
use tonic_prost::ProstCodec;

/// Calls a method with an empty message; only the status matters.
async fn call(channel: Channel, authed: Option<Authed>, path: &str) -> Status {
    async fn unary<S>(service: S, path: &str) -> Result<(), Status>
    where
        S: GrpcService<tonic::body::Body>,
        S::ResponseBody: tonic::codegen::Body<Data = prost::bytes::Bytes> + Send + 'static,
        <S::ResponseBody as tonic::codegen::Body>::Error: Into<tonic::codegen::StdError> + Send,
    {
        let mut grpc = Grpc::new(service);
        grpc.ready().await.map_err(|_| Status::unknown("not ready"))?;
        let path: PathAndQuery = path.parse().unwrap();
        grpc.unary(Request::new(()), path, ProstCodec::<(), ()>::default()).await.map(|_| ())
    }
    // A stream that goes on was let in.
    let asked = async {
        match authed {
            Some(authed) => unary(authed, path).await,
            None => unary(channel, path).await,
        }
    };
    let outcome = match path.ends_with("/WatchChanges") {
        true => tokio::time::timeout(Duration::from_millis(300), asked).await.unwrap_or(Ok(())),
        false => asked.await,
    };
    outcome.err().unwrap_or_else(|| Status::ok(""))
}

#[tokio::test(flavor = "multi_thread")]
async fn every_method_is_refused_without_a_token_and_with_a_wrong_one() {
    let stand = stand().await;
    let roles =
        [v1::Role::Parts, v1::Role::Sales, v1::Role::Workshop, v1::Role::ReadOnly, v1::Role::Admin];
    let mut tokens = Vec::new();
    for role in roles {
        tokens.push((role, stand.token(&[role]).await));
    }
    let mut denied = 0;
    for (path, admitted) in METHOD_ROLES {
        assert!(!admitted.is_empty(), "{path} names no role");
        let status = call(stand.channel.clone(), None, path).await;
        let got = (status.code(), reason(&status));
        assert_eq!(got, (Code::Unauthenticated, "TOKEN_MISSING".to_owned()), "{path}");
        let status = call(stand.channel.clone(), Some(stand.with("baystart_wrong")), path).await;
        let got = (status.code(), reason(&status));
        assert_eq!(got, (Code::Unauthenticated, "TOKEN_INVALID".to_owned()), "{path}");
        for (role, token) in &tokens {
            let status = call(stand.channel.clone(), Some(stand.with(token)), path).await;
            let refused = status.code() == Code::PermissionDenied;
            let should = !admitted.contains(&i32::from(*role));
            assert_eq!(refused, should, "{path} with {role:?}: {status:?}");
            if refused {
                denied += 1;
                assert_eq!(reason(&status), "ROLE_MISSING", "{path}");
            }
        }
    }
    assert!(denied > 50, "{denied} refusals by role");
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_there_is_unimplemented_and_a_revoked_token_is_refused() {
    let stand = stand().await;
    for path in ["/baystart.v1.ShopService/Nothing", "/x.Y/Z"] {
        let status = call(stand.channel.clone(), Some(stand.as_admin()), path).await;
        assert_eq!(
            (status.code(), reason(&status).as_str()),
            (Code::Unimplemented, "METHOD_UNKNOWN")
        );
    }
    let mut access = v1::access_service_client::AccessServiceClient::new(stand.as_admin());
    let secret = stand.token(&[v1::Role::Sales]).await;
    let path = "/baystart.v1.ShopService/GetShop";
    let status = call(stand.channel.clone(), Some(stand.with(&secret)), path).await;
    assert_eq!(status.code(), Code::Ok);
    let tokens = access.list_tokens(v1::ListTokensRequest::default()).await.unwrap().into_inner();
    let token = tokens.tokens.iter().find(|t| t.roles == [i32::from(v1::Role::Sales)]).unwrap();
    let request = v1::RevokeTokenRequest { request_id: crate::id(), uid: token.uid.clone() };
    access.revoke_token(request).await.unwrap();
    let status = call(stand.channel.clone(), Some(stand.with(&secret)), path).await;
    assert_eq!(status.code(), Code::Unauthenticated);
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn health_and_reflection_need_no_token() {
    let stand = stand().await;
    let path = "/grpc.health.v1.Health/Check";
    assert_eq!(call(stand.channel.clone(), None, path).await.code(), Code::Ok);
    for version in ["v1", "v1alpha"] {
        let path = format!("/grpc.reflection.{version}.ServerReflection/ServerReflectionInfo");
        let status = call(stand.channel.clone(), None, &path).await;
        assert!(
            !matches!(status.code(), Code::Unauthenticated | Code::Unimplemented),
            "{version}: {status:?}"
        );
    }
    stand.handle.stop().await.unwrap();
}

#[tokio::test]
async fn other_addresses_than_loopback_need_a_tls_proxy() {
    let stand = stand().await;
    let server = baystart_service::Server::new(stand.store.clone());
    let error = server.bind("0.0.0.0:0".parse().unwrap()).await.unwrap_err();
    assert!(error.to_string().contains("behind_tls_proxy"), "{error}");
    server.behind_tls_proxy(true).bind("0.0.0.0:0".parse().unwrap()).await.unwrap();
    stand.handle.stop().await.unwrap();
}
