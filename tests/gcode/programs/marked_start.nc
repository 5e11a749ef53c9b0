(with a byte order mark, mühle)
G21 G90
G0 X1 Y1 Z1
M30
