(rings, radius grows in a loop)
G21 G90 G17
#1 = 5 (first radius)
#2 = 30
#3 = [#1 / 2]
#100 = 3.175 (tool diameter)
S10000 M3 F600
G0 Z5
WHILE [#1 LT #2] DO1
G0 X[#1] Y0
G1 Z-#3
G2 I-#1
G0 Z5
#1 = [#1 + 5]
END1
#4 = 7
#[#4] = [SIN[30] + ATAN[1]/[2] - 3 ** 2 MOD 4]
N100 IF [#4 GT 9] GOTO 200
#4 = [#4 + 1]
GOTO 100
N200 G0 X[#1+2] Y[-[#2]] Z[ROUND[#3]+5]
IF [#1 EQ 30] THEN #5 = 1
#<depth> = -0.5
G1 Z#<depth>
G0 Z5
M5
M30
