"""Records that a table of a file is read into as it stands: the record's own fields are the keys.

A field's annotation carries its reader, such as ``Annotated[Quantity, of("kerf")]``; a key of another name than the
field stands there as pydantic's ``Field(alias=...)``. A field without a default is a key that must be given.
"""

from __future__ import annotations

from typing import Any, get_type_hints

from msgspec import NODEFAULT, Struct
from msgspec.structs import fields
from pydantic import Field, GetCoreSchemaHandler, create_model
from pydantic_core import CoreSchema, core_schema

from tubing.inputs.section import Section


class FromFile(Struct, frozen=True):
    """A record that pydantic fills from a table of a file, with the messages of every other section."""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        """The schema of a section with this record's fields, whose result becomes the record."""
        section = section_of(cls)

        def record(read: Section) -> FromFile:
            return cls(**{name: getattr(read, name) for name in read.model_fields_set})

        return core_schema.no_info_after_validator_function(record, handler.generate_schema(section))


def section_of(record: type[FromFile]) -> type[Section]:
    """The pydantic model whose keys are the record's fields; what the file leaves out keeps the record's default."""
    reads = get_type_hints(record, include_extras=True)
    keys: dict[str, Any] = {}
    for each in fields(record):
        required = each.default is NODEFAULT and each.default_factory is NODEFAULT
        keys[each.name] = (reads[each.name], Field(...) if required else Field(default=None))
    return create_model(record.__name__, __base__=Section, __doc__=record.__doc__, **keys)
