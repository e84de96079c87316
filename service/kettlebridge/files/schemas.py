"""JSON Schemas of the files, for editors: `python -m kettlebridge.files.schemas FOLDER` writes them."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from pydantic import BaseModel

from kettlebridge.files.kettle_tables import KettleTables
from kettlebridge.files.profile_tables import ProfileTables
from kettlebridge.files.recipe_tables import RecipeTables
from kettlebridge.files.service_tables import ServiceTables

SCHEMAS: dict[str, type[BaseModel]] = {
    "kettle.schema.json": KettleTables,
    "profile.schema.json": ProfileTables,
    "recipe.schema.json": RecipeTables,
    "service.schema.json": ServiceTables,
}


def schema_text(model: type[BaseModel]) -> str:
    """The schema of one kind of file (JSON Schema 2020-12). Rules between keys are not in it."""
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", **model.model_json_schema()}
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def write_schemas(folder: Path) -> None:
    """Writes every schema into `folder`, which is made if need be."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, model in SCHEMAS.items():
        (folder / name).write_text(schema_text(model), encoding="utf-8")


if __name__ == "__main__":
    write_schemas(Path(sys.argv[1]))
