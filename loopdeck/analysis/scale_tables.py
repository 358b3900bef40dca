"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each distance above the root, 0 to 11 semitones.
"""

TUNES = """
share                         156   -67  -153   124    86   -45   -74   202   -73     6  -239    78
root of share                 202   -65   -53  -117   333  -134   -44   297  -175   -44  -144   -55
present                       -63    50    10    39   -70    46    16  -113    10    69    36   -31
strong                        276  -143   -60   125   -12  -184   -76   -17   -36    43    51    32
long                          121    14   -45    24   -31     2    34   -32    37   -42    13   -95
low                           198  -184   199  -211   -86   -99   -40    65   -75    92    50    92
leapt to                      106  -183    21   -71    15   -33   132    92  -155    12    15    48
lowest                         35   -42   -20    11    19   -34   -22   -30   -10    13    96   -15
to root                       260    59   -97   -13    -9    24    56   -77   -14   -20  -268   148
from root                     260    66   152     2  -105   -20    -8   168   -16  -107   -99  -121
last                          143   -83   -11    24   -24     9   -10   -14   -35    22    28   -48
first                          -2   -78   -28    10    41   -31    22    46   -17    10    -6    32
opening                        39    -4    22   -12    33   -20    20    25   -53   -13   -18   -17
cadence                        61    42     4   -52   -10   -43    33   -48    23     4   -27    13
half cadence                  -50   105    34   -42    -1     0   -25    28   -22   -14   -41    28
ionian: share                 -41     0    -7    -1    61   -27    -3    -5     8     8     7     8
ionian: root of share         -48     4    -6     1    92   -22    -5    -7    44    -8    17   -15
ionian: strong                -56     1     6    -1    50   -31     2    13     4    14     7    -1
dorian: share                 -44     1    -6    19     6    34    -1    18    -3     5    -6   -18
dorian: root of share         -44    -1    -5    -3    30    40    -5    25   -28    15   -19  -100
dorian: strong                -20     1    19     5     3    23    -1    -7    -3    -7    11   -18
phrygian: share                15     2     3     0    -3     2    -2    -6    12    -3   -10    -2
phrygian: root of share        21    11    11     3   -14    -3    -9    -1    29   -16   -12    -9
phrygian: strong               25   -10     1    15    -3   -16    -2     7     9    -3   -13    -3
lydian: share                  12     1     3    -1    -5    -3    -1    13    -1   -13     0    -5
lydian: root of share          19     3     6    -5    -3    -6    14    13    -9   -18     1   -10
lydian: strong                 12     0   -10     0    -4    -3    -4    27     0   -19     1    -1
mixolydian: share               9    -1   -12     0     2     3    -3    -7     3    12    -1    -3
mixolydian: root of share      11    -5   -12     0    11    -8   -18   -11    16    20    10    -5
mixolydian: strong             13    -2   -25    -1    11    24    -3   -40     3    26    -3    -1
aeolian: share                  5    -4    27    -1    -4   -10    -1    19   -49     1     5    22
aeolian: root of share         13   -18    43     4   -11    -2     1    37  -111    35    13   131
aeolian: strong               -24    -4    19    10    -2   -17     0    42   -41    -5    12    21
locrian: share                  6    -2    -1     8    -1    -1     5    -1     0    -1    -5     0
locrian: root of share          9    -1    -3    11    -4     0     9    -4     3    -2    -8     1
locrian: strong                 8    -1     0     7    -1    -2     4    -1     0    -1    -6     0
costs                         993  1346   102
constant: ionian              189
constant: dorian              175
constant: phrygian            315
constant: lydian              -69
constant: mixolydian           81
constant: aeolian             377
constant: locrian             255
constant: harmonic minor       39
constant: locrian natural 6  -160
constant: ionian augmented   -163
constant: dorian #4          -298
constant: phrygian dominant    94
constant: lydian #2          -337
constant: ultralocrian       -195
constant: melodic minor      -123
constant: dorian b2          -116
constant: lydian augmented   -143
constant: lydian dominant    -291
constant: mixolydian b6       -60
constant: locrian natural 2    41
constant: altered               3
constant: major pentatonic    118
constant: minor pentatonic    476
constant: major blues         -20
constant: minor blues         244
constant: whole tone           57
constant: whole-half octatonic -166
constant: half-whole octatonic -320
"""

LOOPS = """
share                         118  -137   -77   -54   -82  -110   139   270   -63    93   -95     0
root of share                 201  -149    72   -87   176  -112   -15   465  -225  -161  -118   -48
present                      -135    44   -24    50   -36    31    32  -132    54    67    12    36
strong                        343   -78     8   -19    -4   -98    45   -55  -135    12     5   -26
long                          -28     9    21    29    19   -48    -6   -42    23    14    30   -22
low                           505    10   -18  -242  -348  -106   -20    -6  -147   121    64   186
leapt to                      237    21   -42    -6   -18   -47   -86   121   -82   -65     9   -42
lowest                        160   -14    35  -114    13  -286  -249   -96   116   138   147   150
to root                       328   -14  -125     0   340  -128   291   215   329   242   -19   282
from root                     328    60   155    92   164   -66    72   385    61  -111    23   218
last                            0     0     0     0     0     0     0     0     0     0     0     0
first                           0     0     0     0     0     0     0     0     0     0     0     0
opening                         0     0     0     0     0     0     0     0     0     0     0     0
cadence                         0     0     0     0     0     0     0     0     0     0     0     0
half cadence                    0     0     0     0     0     0     0     0     0     0     0     0
ionian: share                -109    -4    20   -14   131   -39    -7    51    -1    34   -15   -39
ionian: root of share         -87   -17    54   -52   179   -92    -6    72    -5     8   -54  -192
ionian: strong               -167    -4    28   -16   138   -23     5    68     2    21   -12   -35
dorian: share                   5    -4     0    -3     9    26    -5   -13    15     6   -37     7
dorian: root of share           5   -10    16     9    35    40   -20   -18    39    34   -46     7
dorian: strong                 17    -6    -3     7     7     9    -5   -52    19    29   -25     7
phrygian: share                23    -5    -4    -7    -4     4    -6    -7    -7     0    15     2
phrygian: root of share        24     3   -12    -7   -20    12   -20    -3   -18    -6    21     8
phrygian: strong               24    -1    -5    15    -5    -6    -2   -11   -16     2     8     0
lydian: share                  20     3   -12    -6    -8     9    13   -22     9    -8     2    -2
lydian: root of share          22     4   -22   -24    -3    30    23   -40    28   -19    11     4
lydian: strong                 16     1     6    -6   -12    10    -8   -31    16    -1     1     5
mixolydian: share              33    13    24    -5    -8   -19     0   -12     4   -24   -14    10
mixolydian: root of share      29    45    50   -25    20   -18     2   -17    15   -34    -6    36
mixolydian: strong             53    14    36    -8   -10   -28    -3   -24     6   -35   -13    14
aeolian: share                -31    -4    18    -5     2    11     3    30   -61    13    13    20
aeolian: root of share        -26   -15    37   -15     2    33    10    52  -133    71    25    95
aeolian: strong               -48     3    16   -16    -2    -1     2    74   -63     4    18    22
locrian: share                  2   -13    -1    -6     3     9    24    -5    -3    -3     4    -7
locrian: root of share          7   -23    -7   -10    11    22    38   -16     5   -12    10   -21
locrian: strong                 1   -12    -3    -4     2    16    13    -4    -3    -3    11    -9
costs                        1109  1112   268
constant: ionian              260
constant: dorian              141
constant: phrygian            166
constant: lydian             -133
constant: mixolydian          100
constant: aeolian             307
constant: locrian             151
constant: harmonic minor       31
constant: locrian natural 6   -38
constant: ionian augmented   -147
constant: dorian #4          -191
constant: phrygian dominant   108
constant: lydian #2          -336
constant: ultralocrian       -149
constant: melodic minor       -58
constant: dorian b2          -114
constant: lydian augmented   -203
constant: lydian dominant    -216
constant: mixolydian b6        -5
constant: locrian natural 2    31
constant: altered             -24
constant: major pentatonic    190
constant: minor pentatonic    407
constant: major blues          70
constant: minor blues         238
constant: whole tone            1
constant: whole-half octatonic -283
constant: half-whole octatonic -297
"""
