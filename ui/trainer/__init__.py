"""What the trainer's page shows, without Streamlit: makes, drawings, pictures, the quiz."""
