"""The JSON Schema of a style file, for editors that complete and check what is typed.

It is made from the models, so that it says the same as the loader: every key with its range and
with what one hears of it. A schema cannot say everything the loader checks (two recipes of one
name, a range of less than an octave): `jam check FILE` has the last word. JSON Schema is the
draft 2020-12 of json-schema.org.
"""

from __future__ import annotations

import json
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

from jam.styles.instruments import INSTRUMENTS
from jam.styles.profile import Style

DIALECT = "https://json-schema.org/draft/2020-12/schema"


class _Untitled(GenerateJsonSchema):
    """Leaves out the titles that only repeat the key."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


def style_schema() -> JsonSchemaValue:
    """Return the schema as plain data."""
    schema = Style.model_json_schema(schema_generator=_Untitled)
    block = schema["$defs"]["Instrument"]
    block["properties"]["name"]["enum"] = [*INSTRUMENTS, ""]
    for key in schema["properties"].values():
        if isinstance(key.get("default"), dict):
            del key["default"]  # the block's own keys tell theirs
    wish = schema["properties"]["instrument"]
    wish["anyOf"] = [{"enum": list(INSTRUMENTS)}, {"$ref": wish.pop("$ref")}]
    return {"$schema": DIALECT, **schema, "title": "A reply style of jam"}


def schema_text() -> str:
    """Return the schema as JSON, two spaces a level."""
    return json.dumps(style_schema(), indent=2, ensure_ascii=False)
