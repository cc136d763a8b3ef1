"""What the pages of lots and pieces show, made from the records; no Streamlit."""
