"""The views: one `.sql` file a view or macro, executed in the order their headers ask for."""

from warehouse.views.loader import (
    SqlFile,
    create_views,
    prepare,
    shared_views,
    sql_files,
    views_below,
    views_naming,
)

__all__ = [
    "SqlFile",
    "create_views",
    "prepare",
    "shared_views",
    "sql_files",
    "views_below",
    "views_naming",
]
