"""YAML and CSV files to values that know their line: `read_yaml(path) -> Tree`, `read_table(...)`."""

from planner.files.inside import inside
from planner.files.table import MOST_TABLE_BYTES, Row, Table, head_is_sound, in_columns, read_table
from planner.files.text import nearest_file
from planner.files.tree import MOST_YAML_BYTES, KeyPath, Node, Tree, read_yaml, yaml_tree

__all__ = [
    "MOST_TABLE_BYTES",
    "MOST_YAML_BYTES",
    "KeyPath",
    "Node",
    "Row",
    "Table",
    "Tree",
    "head_is_sound",
    "in_columns",
    "inside",
    "nearest_file",
    "read_table",
    "read_yaml",
    "yaml_tree",
]
