g21g90g17g0z2
s18000m3f700
G00X1.0Y1.0
G01Z-.3
X2Y2.
X3Y-.5(mühle)
X 4 Y - 1 . 5


G 1 X1 2
X5Y5;corner
( MSG , turn the plate )
M00
//a remark
(a (nested) remark)
X6Y6
T1
M06 T2
G0Z2
M5
M30