; labelled subprograms and loops
o100 sub
  g0 x[#1] y[#2]
  g1 z-1 f[300]
  g0 z5
o100 endsub
g21 g90 g17
s8000 m3
g0 z5
#<i> = 0
o110 while [#<i> lt 3]
  o100 call [#<i> * 10] [5]
  #<i> = [#<i> + 1]
o110 endwhile
o120 repeat [2]
  g91 g0 x1 g90
o120 endrepeat
o130 if [#<i> gt 2]
  g0 x0
o130 elseif [#<i> eq 2]
  g0 x1
o130 else
  g0 x2
o130 endif
o140 do
  #<i> = [#<i> - 1]
  o150 if [#<i> eq 1]
    o140 break
  o150 endif
o140 while [#<i> gt 0]
m5
m2
