"""Who may come in, and what the server says of itself."""

from grpc_health.v1 import health_pb2, health_pb2_grpc

SERVICES = {
    "AccessService", "BuildService", "CatalogueService", "ChangeService", "ForecastService",
    "ImportService", "LedgerService", "PurchasingService", "ShopService",
}


def the_server_describes_itself(today):
    """The server describes itself"""
    ours = {name.removeprefix("baystart.v1.") for name in today.wire.services if name.startswith("baystart.v1.")}
    today.check("reflection v1 lists every service", SERVICES <= ours, ", ".join(sorted(ours)))
    # Each version of reflection names itself; all else is alike.
    own = lambda names: [name for name in names if ".reflection." not in name]
    today.equal("reflection v1alpha lists the same", own(today.wire.list_services("v1alpha")), own(today.wire.services))
    answer = health_pb2_grpc.HealthStub(today.wire.channel).Check(health_pb2.HealthCheckRequest(), timeout=10)
    today.equal("health", health_pb2.HealthCheckResponse.ServingStatus.Name(answer.status), "SERVING")


def strangers_stay_outside(today):
    """Strangers stay outside"""
    nobody = today.wire.caller("")
    today.equal("no token", nobody.refused("CatalogueService", "ListParts").code, "UNAUTHENTICATED")
    thief = today.wire.caller("0" * 64)
    today.equal("wrong token", thief.refused("CatalogueService", "ListParts").code, "UNAUTHENTICATED")
    reader = today.person("READ_ONLY")
    today.check("a reader may read", reader.call("CatalogueService", "ListParts", page_size=1)["parts"] != [])
    refusal = reader.refused(
        "BuildService", "HoldBuild", request_id="0199a000-0000-7000-8000-000000000001",
        build={"number": "B-1044"}, reason="a reader's try",
    )
    today.equal("a reader may not write", refusal.code, "PERMISSION_DENIED")
    state = reader.call("BuildService", "GetBuild", build={"number": "B-1044"})["build"]["state"]
    today.equal("and nothing changed", state, "BUILD_STATE_OPEN")
    today.equal("workshop issues no tokens", today.person("WORKSHOP").refused(
        "AccessService", "IssueToken", request_id="0199a000-0000-7000-8000-000000000002",
        name="own key", roles=["ROLE_ADMIN"],
    ).code, "PERMISSION_DENIED")


def a_revoked_token_is_refused(today):
    """A revoked token is refused"""
    issued = today.admin.change("AccessService", "IssueToken", name="for an hour", roles=["ROLE_READ_ONLY"])
    visitor = today.wire.caller(issued["secret"])
    today.check("it reads", "shop" in visitor.call("ShopService", "GetShop"))
    today.admin.change("AccessService", "RevokeToken", uid=issued["token"]["uid"])
    today.equal("then no more", visitor.refused("ShopService", "GetShop").code, "UNAUTHENTICATED")


STEPS = [the_server_describes_itself, strangers_stay_outside, a_revoked_token_is_refused]
