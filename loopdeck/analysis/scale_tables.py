"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each distance above the root, 0 to 11 semitones.
"""

TUNES = """
share                           |   140   -62  -109   104    79   -62   -75   157   -76    48  -216    72
root of share                   |   189   -60   -77   -99   341  -149   -46   307  -170   -26  -144   -66
present                         |    37    41   -32    34   -74    29    13  -112     5    65    30   -35
strong                          |   261  -153   -15   114     8  -186   -28   -34   -54    48    14    25
long                            |   124   -52   -25    -8    13   -12    29   -20    -6   -12   -12   -18
low                             |   209  -141   159  -186  -137   -77    -5    55   -38    37    74    51
leapt to                        |   126  -218    31   -61    -2   -14    76    93  -128    22    23    53
lowest                          |    32   -64   -20    17    17   -36   -25   -31     0    12   105    -8
to root                         |   224    58   -58   -17   -44   -32    42    -5   -34   -11  -212   154
from root                       |   224    41   126    11   -82   -85   -16   176    78  -113   -86  -122
last                            |   147   -77   -22    41   -29    17   -43   -15   -14    13    38   -57
first                           |   -22   -18   -45    -3    49   -25    95    56   -48     6   -45     1
opening                         |    57   -59    44    -2    36   -29   -66    17   -13     0    13     2
cadence                         |    57    55     5   -57   -12   -44    44   -49    14     1   -33    18
half cadence                    |   -47    95    43   -40     3     3   -30    29   -45    -6   -45    38
ionian: share                   |   -40     0    -8     0    59   -22    -4    -4     8     5     7     6
ionian: root of share           |   -50     3   -15     2    90   -10    -9    -6    42    -9    17   -18
ionian: strong                  |   -54     1     1     0    46   -24     0    18     4    11     7    -3
dorian: share                   |   -36    -1    -5    21     5    29    -2    16    -3     7    -9   -19
dorian: root of share           |   -39    -6    -8     0    26    28   -10    20   -28    17   -23  -100
dorian: strong                  |   -12    -2    17     7     3    17    -3    -3    -3    -3     3   -18
phrygian: share                 |     1    -2     3     0    -2     6    -1     1    15    -3   -10    -3
phrygian: root of share         |     7    10    14     4   -12    10    -6     8    33   -17   -11   -11
phrygian: strong                |    13   -11     2    14    -3   -10    -1    11    11    -3   -13    -4
lydian: share                   |     7     1     0    -1     0    -2    -2    14    -3   -12    -1    -5
lydian: root of share           |    14     5     5    -5     4    -3    11    18   -15   -16    -2    -9
lydian: strong                  |     9     0   -11    -1     3    -2    -7    26    -2   -17     0     1
mixolydian: share               |     7     0   -14     0     2     4    -2    -8     2    12     3    -5
mixolydian: root of share       |     9    -2   -17    -1    13    -9   -15   -12    13    17    17   -12
mixolydian: strong              |     6    -1   -25    -1    10    29    -2   -41     2    27     0    -3
aeolian: share                  |     9    -3    22    -2    -5   -15     1    23   -41     0    -1    22
aeolian: root of share          |    18   -14    33     2   -14   -14     9    42  -100    29     5   131
aeolian: strong                 |   -22    -3    14     8    -4   -25     2    47   -33    -7    10    21
locrian: share                  |     3    -1     0     7    -1    -1     5    -1     0    -1    -6     0
locrian: root of share          |     5    -3    -1    11    -3     2    11    -2     6    -4    -9    -1
locrian: strong                 |     7     0     0     6    -1    -1     4    -1    -2    -1    -6    -1
costs                           |   946  1345   102
constant: ionian                |   188
constant: dorian                |   180
constant: phrygian              |   286
constant: lydian                |   -89
constant: mixolydian            |    86
constant: aeolian               |   387
constant: locrian               |   256
constant: harmonic minor        |    31
constant: locrian natural 6     |  -119
constant: ionian augmented      |  -138
constant: dorian #4             |  -210
constant: phrygian dominant     |    93
constant: lydian #2             |  -362
constant: ultralocrian          |  -177
constant: melodic minor         |   -99
constant: dorian b2             |  -126
constant: lydian augmented      |  -130
constant: lydian dominant       |  -303
constant: mixolydian b6         |   -52
constant: locrian natural 2     |    72
constant: altered               |   -83
constant: major pentatonic      |   112
constant: minor pentatonic      |   471
constant: major blues           |   -66
constant: minor blues           |   259
constant: whole tone            |   -38
constant: whole-half octatonic  |   -87
constant: half-whole octatonic  |  -338
"""

LOOPS = """
share                           |    99  -147  -130    43   -24   -79    77   218     3    69   -57   -73
root of share                   |   276  -169    36    16   152   -66    17   365  -196  -189   -79  -162
present                         |   -84    34   -57    29   -11   -42    53   -76    -3    97     2    58
strong                          |   258   -45     3   -30   -35  -127  -143   -43   110   -55   -14   123
long                            |   -27    36     3    -8    11     2   -26   -32     8    45     5   -19
low                             |   445    26    63  -201  -267  -123    11   -57  -143    85    92    70
leapt to                        |   205   -86    11   -16     9   -32   -31   121   -63   -23    -8   -87
lowest                          |   137    10    13   -95    28  -229  -205   -97    94    91   111   142
to root                         |   250  -212   -22   -22   280   -92   184   189   264   163     5   336
from root                       |   250    46    57    51   262   -45    17   239    94   128    53   220
last                            |     0     0     0     0     0     0     0     0     0     0     0     0
first                           |     0     0     0     0     0     0     0     0     0     0     0     0
opening                         |     0     0     0     0     0     0     0     0     0     0     0     0
cadence                         |     0     0     0     0     0     0     0     0     0     0     0     0
half cadence                    |     0     0     0     0     0     0     0     0     0     0     0     0
ionian: share                   |   -89     1    13   -13    78   -27    -7    69    -4    24   -10   -28
ionian: root of share           |   -73     7    12   -38   126   -34   -18    91   -11     3   -38  -144
ionian: strong                  |  -133     1    -5   -16    88    -5     2    87    -7    20   -10   -15
dorian: share                   |    23     1   -25    21     0   -11    -8   -10     6    23   -18     1
dorian: root of share           |    16     4   -61    40     4   -44   -29   -11    16    58   -36    -7
dorian: strong                  |    44     3   -24    21     3   -14    -3   -35     6     7    -7     3
phrygian: share                 |     8    23     0   -34     0     5     5    14   -17    -5     0     7
phrygian: root of share         |    13    64    -2   -57    -1    32    18    23   -19   -17     4    28
phrygian: strong                |    15    19     0   -25     0   -10     7     3    -4    -2    -6     7
lydian: share                   |     5     2    -7    -3    -7    14     1    -2    -1    -7    10    -7
lydian: root of share           |     3     3   -10   -10   -17    44    12     0    -4   -24    31    -1
lydian: strong                  |    28     3    -8     0   -15    11    -9   -13     0    -3    16   -12
mixolydian: share               |    31     1    -9     3    19   -32     0   -36     1    19     0     5
mixolydian: root of share       |    29     4   -24     4    38   -81    -3   -37     6    25    28    11
mixolydian: strong              |    35     4     9     5    11   -33     0   -33     4     6    -6     2
aeolian: share                  |   -30    -6     2    21    -8    -2    -7    20   -23     9    23     8
aeolian: root of share          |   -17   -22   -16    34   -31   -19   -27    43   -55    54    34    54
aeolian: strong                 |   -35    -9    -6    15    -7   -10   -10    47   -21     6    32     7
locrian: share                  |    -8    -5     3     4    -3    -1    15    -1     0    -1     2    -1
locrian: root of share          |    -8   -23     9     8    -8    -9    27    -3     6    -2    11    -5
locrian: strong                 |     5    -4     2     0    -2    -3    10    -3    -3     0    -2     4
costs                           |   972  1137   205
constant: ionian                |   250
constant: dorian                |   152
constant: phrygian              |   186
constant: lydian                |  -120
constant: mixolydian            |   117
constant: aeolian               |   304
constant: locrian               |   173
constant: harmonic minor        |    60
constant: locrian natural 6     |   -67
constant: ionian augmented      |   -89
constant: dorian #4             |  -259
constant: phrygian dominant     |   156
constant: lydian #2             |  -351
constant: ultralocrian          |  -156
constant: melodic minor         |   -70
constant: dorian b2             |   -35
constant: lydian augmented      |  -259
constant: lydian dominant       |  -207
constant: mixolydian b6         |   -39
constant: locrian natural 2     |   -11
constant: altered               |   -50
constant: major pentatonic      |   223
constant: minor pentatonic      |   397
constant: major blues           |    40
constant: minor blues           |   207
constant: whole tone            |    86
constant: whole-half octatonic  |  -261
constant: half-whole octatonic  |  -373
"""
