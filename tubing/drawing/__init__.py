"""Pictures of a plan: shapes in mm decided once, brought to paper as SVG and to files as DXF."""
