"""Write the published JSON Schema of the level-book document from the model."""

import json
from pathlib import Path

from levelbook.book import schema

TARGET = Path(__file__).parents[1] / "src/levelbook/book/levelbook-1.schema.json"

if __name__ == "__main__":
    TARGET.write_text(json.dumps(schema(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
