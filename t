Command exited with non-zero status 1
0.35 s 20000 kB
