"""Facts and derived records: frozen structs without behaviour."""
