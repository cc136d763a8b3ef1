"""What the trade page and the piece page show of orders, dimensions, checks and strength.

Plain rows and sentences made from `fittings`; no Streamlit.
"""
