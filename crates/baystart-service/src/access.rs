//! Which paths need a token, and which roles they admit: denied by default.

use baystart_core::book::model::Role;
use baystart_proto::METHOD_ROLES;
use baystart_proto::convert::wire;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// The only paths that need no token, by name: whether the server is there,
/// and what it offers.
pub(crate) const PUBLIC: &[&str] = &[
    "/grpc.health.v1.Health/Check",
    "/grpc.health.v1.Health/Watch",
    "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
    "/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo",
];

/// Streams that the caller alone would end: a stop of the server ends them.
pub(crate) const ENDLESS: &[&str] = &[
    "/grpc.health.v1.Health/Watch",
    "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
    "/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo",
];

static ROLES: LazyLock<BTreeMap<&'static str, Vec<Role>>> = LazyLock::new(|| {
    let roles = |numbers: &[i32]| numbers.iter().filter_map(|n| wire::role_of(*n)).collect();
    METHOD_ROLES.iter().map(|(path, numbers)| (*path, roles(numbers))).collect()
});

/// Who may call a path.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Access {
    /// Everybody.
    Public,
    /// Holders of a token with one of these roles; nobody where there is none.
    Roles(&'static [Role]),
    /// No method of this server.
    Unknown,
}

/// Who may call the path.
pub(crate) fn access(path: &str) -> Access {
    if PUBLIC.contains(&path) {
        return Access::Public;
    }
    ROLES.get(path).map_or(Access::Unknown, |roles| Access::Roles(roles))
}

/// A role as people and errors name it.
pub(crate) fn role_name(role: Role) -> &'static str {
    wire::role(role).as_str_name()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_method_of_the_api_names_a_role() {
        assert!(METHOD_ROLES.len() > 50);
        for (path, _) in METHOD_ROLES {
            match access(path) {
                Access::Roles(roles) => assert!(!roles.is_empty(), "{path} admits nobody"),
                other => assert_eq!(other, Access::Unknown, "{path}"),
            }
        }
    }

    #[test]
    fn what_is_not_named_is_not_public() {
        assert_eq!(access("/grpc.health.v1.Health/List"), Access::Unknown);
        assert_eq!(access("/baystart.v1.ShopService/getshop"), Access::Unknown);
        assert_eq!(access("/"), Access::Unknown);
    }
}
