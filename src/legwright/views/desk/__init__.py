"""The workbench's server side: one robot, edited, judged and shown to its pages."""
