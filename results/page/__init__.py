"""A run as one self-contained HTML page for people: pictures, table, traces, settings, cautions."""
