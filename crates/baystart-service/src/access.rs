//! Which paths need a token, and which roles they admit: denied by default.

use baystart_core::book::model::Role;
use baystart_proto::METHOD_ROLES;
use baystart_proto::convert::wire;
use prost::Message as _;
use prost_types::{DescriptorProto, FileDescriptorSet};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

/// The only paths that need no token, by name: whether the server is there,
/// and what it offers.
const PUBLIC: &[(&str, Public)] = &[
    ("/grpc.health.v1.Health/Check", Public::Check),
    ("/grpc.health.v1.Health/Watch", Public::Watch),
    ("/grpc.reflection.v1.ServerReflection/ServerReflectionInfo", Public::Reflection),
    ("/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo", Public::Reflection),
];

/// What needs no token. Each has places of its own, so that none is in
/// another's way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Public {
    /// Whether the server is well, once.
    Check,
    /// The same from now on.
    Watch,
    /// What the API is.
    Reflection,
}

/// Which sides of a method are streams, and whether it writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Streams {
    /// The caller sends any number of messages.
    pub(crate) asking: bool,
    /// The server answers with any number of messages.
    pub(crate) answering: bool,
    /// The message has a request id: it may change something.
    pub(crate) writing: bool,
}

static STREAMS: LazyLock<BTreeMap<String, Streams>> = LazyLock::new(|| {
    let all = [baystart_proto::DESCRIPTORS, tonic_health::pb::FILE_DESCRIPTOR_SET];
    let sets = all.iter().filter_map(|bytes| FileDescriptorSet::decode(*bytes).ok());
    let files: Vec<_> = sets.flat_map(|set| set.file).collect();
    let writes = |message: &DescriptorProto| message.field.iter().any(|f| f.name() == "request_id");
    let mut writing = BTreeSet::new();
    for file in &files {
        let writes = file.message_type.iter().filter(|message| writes(message));
        writing.extend(writes.map(|message| format!(".{}.{}", file.package(), message.name())));
    }
    let mut streams = BTreeMap::new();
    for file in &files {
        for service in &file.service {
            for method in &service.method {
                let path = format!("/{}.{}/{}", file.package(), service.name(), method.name());
                let (asking, answering) = (method.client_streaming(), method.server_streaming());
                // An upload says its request id in one of its messages.
                let writing = asking || writing.contains(method.input_type());
                streams.insert(path, Streams { asking, answering, writing });
            }
        }
    }
    streams
});

/// Which sides of a path's method are streams; both, where it is not described.
pub(crate) fn streams(path: &str) -> Streams {
    STREAMS.get(path).copied().unwrap_or(Streams { asking: true, answering: true, writing: false })
}

static ROLES: LazyLock<BTreeMap<&'static str, Vec<Role>>> = LazyLock::new(|| {
    let roles = |numbers: &[i32]| numbers.iter().filter_map(|n| wire::role_of(*n)).collect();
    METHOD_ROLES.iter().map(|(path, numbers)| (*path, roles(numbers))).collect()
});

/// Who may call a path.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Access {
    /// Everybody.
    Public(Public),
    /// Holders of a token with one of these roles; nobody where there is none.
    Roles(&'static [Role]),
    /// No method of this server.
    Unknown,
}

/// Who may call the path.
pub(crate) fn access(path: &str) -> Access {
    if let Some((_, public)) = PUBLIC.iter().find(|(its, _)| *its == path) {
        return Access::Public(*public);
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
    fn every_method_is_described() {
        for (path, _) in METHOD_ROLES {
            assert!(STREAMS.contains_key(*path), "{path}");
        }
        let one = |asking, answering, writing| Streams { asking, answering, writing };
        assert_eq!(streams("/grpc.health.v1.Health/Check"), one(false, false, false));
        assert_eq!(streams("/grpc.health.v1.Health/Watch"), one(false, true, false));
        assert_eq!(streams("/baystart.v1.ImportService/ImportFiles"), one(true, true, true));
        assert_eq!(streams("/baystart.v1.LedgerService/GetOnHand"), one(false, false, false));
        assert_eq!(streams("/baystart.v1.LedgerService/AdjustStock"), one(false, false, true));
    }

    #[test]
    fn what_is_not_named_is_not_public() {
        assert_eq!(access("/grpc.health.v1.Health/List"), Access::Unknown);
        assert_eq!(access("/baystart.v1.ShopService/getshop"), Access::Unknown);
        assert_eq!(access("/"), Access::Unknown);
    }
}
