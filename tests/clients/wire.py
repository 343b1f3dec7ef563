"""A gRPC client that knows the API only from the server's reflection service."""

import time
import uuid

import grpc
from google.protobuf import descriptor_pb2, descriptor_pool, json_format, message_factory
from google.rpc import error_details_pb2
from grpc_reflection.v1alpha import reflection_pb2
from grpc_status import rpc_status

# The messages of v1 and v1alpha are alike on the wire; only the service's name differs.
REFLECTION = {
    "v1": "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
    "v1alpha": "/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo",
}
PACKAGE = "baystart.v1."
TIMEOUT_SECONDS = 30


class Refused(Exception):
    """A call that ended with another code than OK."""

    def __init__(self, error):
        super().__init__(f"{error.code().name}: {error.details()}")
        self.code = error.code().name
        self.message = error.details()
        self.reason = ""
        self.metadata = {}
        self.fields = []
        status = rpc_status.from_call(error)
        for detail in status.details if status else []:
            info = error_details_pb2.ErrorInfo()
            bad_request = error_details_pb2.BadRequest()
            if detail.Unpack(info):
                self.reason = info.reason
                self.metadata = dict(info.metadata)
            elif detail.Unpack(bad_request):
                self.fields += [violation.field for violation in bad_request.field_violations]


class Wire:
    """One channel to the server, with the message classes that it described."""

    def __init__(self, address):
        self.address = address
        self.channel = grpc.insecure_channel(address)
        self.pool = descriptor_pool.DescriptorPool()
        self.known_files = set()
        self.services = self.list_services("v1")
        for service in self.services:
            if service.startswith(PACKAGE):
                self._learn(reflection_pb2.ServerReflectionRequest(file_containing_symbol=service))

    def list_services(self, version):
        """Names of the services, as one version of the reflection service lists them."""
        request = reflection_pb2.ServerReflectionRequest(list_services="")
        answer = self._reflect(version, request)
        return sorted(service.name for service in answer.list_services_response.service)

    def _reflect(self, version, request):
        ask = self.channel.stream_stream(
            REFLECTION[version],
            request_serializer=reflection_pb2.ServerReflectionRequest.SerializeToString,
            response_deserializer=reflection_pb2.ServerReflectionResponse.FromString,
        )
        answer = next(ask(iter([request]), timeout=TIMEOUT_SECONDS))
        if answer.HasField("error_response"):
            raise RuntimeError(f"reflection: {answer.error_response.error_message}")
        return answer

    def _learn(self, request):
        """Adds the files that answer a reflection request, dependencies first."""
        answer = self._reflect("v1", request)
        files = {}
        for serialized in answer.file_descriptor_response.file_descriptor_proto:
            file = descriptor_pb2.FileDescriptorProto.FromString(serialized)
            files[file.name] = file
        for file in files.values():
            self._add(file, files)

    def _add(self, file, files):
        if file.name in self.known_files:
            return
        self.known_files.add(file.name)
        for name in file.dependency:
            if name in files:
                self._add(files[name], files)
            elif name not in self.known_files:
                self._learn(reflection_pb2.ServerReflectionRequest(file_by_filename=name))
        self.pool.Add(file)

    def method(self, service, name):
        """The descriptor of a method."""
        return self.pool.FindServiceByName(PACKAGE + service).methods_by_name[name]

    def caller(self, token):
        """Somebody who calls with a token, or with none."""
        return Caller(self, token)


class Caller:
    """Calls methods as the holder of one token; requests and answers are plain dictionaries."""

    def __init__(self, wire, token):
        self.wire = wire
        self.metadata = [("authorization", f"Bearer {token}")] if token else []

    def call(self, service, rpc, /, **fields):
        """The answer as a dictionary, or a list of them from a streaming method.

        Raises Refused when the call ends with another code than OK.
        """
        method = self.wire.method(service, rpc)
        request = json_format.ParseDict(fields, message_factory.GetMessageClass(method.input_type)())
        answer_class = message_factory.GetMessageClass(method.output_type)
        path = f"/{method.containing_service.full_name}/{rpc}"
        open_call = self.wire.channel.unary_stream if method.server_streaming else self.wire.channel.unary_unary
        call = open_call(
            path,
            request_serializer=lambda message: message.SerializeToString(),
            response_deserializer=answer_class.FromString,
        )
        try:
            answer = call(request, metadata=self.metadata, timeout=TIMEOUT_SECONDS)
            if method.server_streaming:
                return [as_dictionary(message) for message in answer]
            return as_dictionary(answer)
        except grpc.RpcError as error:
            raise Refused(error) from None

    def change(self, service, rpc, /, **fields):
        """As call, with a request id of its own; waits out a lost race."""
        fields.setdefault("request_id", str(uuid.uuid4()))
        for attempt in range(5):
            try:
                return self.call(service, rpc, **fields)
            except Refused as refusal:
                if refusal.code != "UNAVAILABLE" or attempt == 4:
                    raise
                time.sleep(0.2 * 2**attempt)
        return None

    def refused(self, service, rpc, /, **fields):
        """The refusal of a call that must not succeed."""
        try:
            self.call(service, rpc, **fields)
        except Refused as refusal:
            return refusal
        raise AssertionError(f"{service}/{rpc} was not refused")


def as_dictionary(message):
    """A message with proto's own field names and with fields that hold their default."""
    return json_format.MessageToDict(
        message, preserving_proto_field_name=True, always_print_fields_with_no_presence=True
    )


def day(text):
    """A Date from YYYY-MM-DD."""
    year, month, number = (int(part) for part in text.split("-"))
    return {"year": year, "month": month, "day": number}


def as_text(date):
    """YYYY-MM-DD from a Date, or an empty text."""
    return f"{date['year']:04}-{date['month']:02}-{date['day']:02}" if date else ""


def decimal(text):
    """A Decimal."""
    return {"value": str(text)}


def number(quantity):
    """A Decimal as a float; absent counts as 0."""
    return float(quantity["value"]) if quantity else 0.0
