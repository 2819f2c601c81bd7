drop table sheet_import_rows, sheet_imports, sheet_mappings, sheet_uploads;
