"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each distance above the root, 0 to 11 semitones.
"""

TUNES = """
share                           |   160  -111   -51    97    63   -79   -76   148  -101    80  -188    57
root of share                   |   249   -88   -80  -120   330  -167   -37   335  -193   -28  -130   -72
present                         |    15    40   -26    31   -69    32    20  -115     7    65    28   -27
strong                          |   304  -180   -22    93    65  -224   -30    -7   -69    72    -5     3
long                            |   452   -86  -183    70   -31    46    75   -38   -76  -142   -38   -49
low                             |   218  -160   187  -195  -131   -46   -23    74   -63    24    55    60
leapt to                        |   577  -128   -75  -248  -235   -51    -9   263   -85   -89    27    55
lowest                          |    28   -71   -20    28    21   -29   -17   -28     1    14   104   -29
to root                         |   239    39   -76   -33   -27   -69    38    11   -71   -44  -245   157
from root                       |   239    24   107    13   -89  -101     0   168    35  -159  -132   -99
last                            |   165   -83   -22    55   -32    20   -67    -7   -21    15    45   -67
first                           |   -24    -1   -62   -10    64   -34    94    59   -57     8   -57    20
opening                         |    59   -79    55    -6    34   -32   -73    21   -16     0    18    18
cadence                         |    66    50     5   -59    -6   -45    26   -40     3     7   -27    20
half cadence                    |   -47    96    41   -38    19     5   -28    28   -65    -7   -50    47
ionian: share                   |   -39    -1    -8     0    60   -24    -4    -9     8     5     6    10
ionian: root of share           |   -50    -1   -16     3    93   -15   -11   -10    45   -15    12   -14
ionian: strong                  |   -52     0    -5     0    52   -31     0    17     5    12     6     0
dorian: share                   |   -37    -1    -3    27     5    27    -2    16    -4     7    -9   -19
dorian: root of share           |   -39    -7    -6     5    27    23   -10    20   -31    14   -23  -103
dorian: strong                  |    -7    -2    13    13     3    15    -3    -7    -3    -5     6   -19
phrygian: share                 |    -1    -4     3     4    -2     9    -1     3    12    -4    -9    -3
phrygian: root of share         |     6     9    15    10   -12    15    -7    13    29   -18   -11   -12
phrygian: strong                |    11   -15     2    17    -3    -7    -2    15     9    -4   -14    -3
lydian: share                   |    11     1     7    -1     0    -2    -7    16    -3   -13    -1   -10
lydian: root of share           |    18     5    14    -6     5    -2     6    22   -18   -16    -4   -21
lydian: strong                  |    15     0    -4    -1    -1    -2   -13    28    -2   -16    -1    -5
mixolydian: share               |    11     0   -13     0     0     5    -2    -8     2    12     2    -4
mixolydian: root of share       |    13    -3   -18     0    12    -9   -15   -12    12    17    17   -11
mixolydian: strong              |     9    -1   -23    -1    12    27    -2   -41     2    24    -1    -3
aeolian: share                  |    10    -3    21    -7    -5   -14     1    24   -42     1     2    23
aeolian: root of share          |    20   -11    29    -5   -14   -12    11    44   -99    35     8   141
aeolian: strong                 |   -24    -3    19     4    -4   -23     3    48   -35    -6     8    22
locrian: share                  |     6    -1     0     0    -1    -1     9    -1     0    -1    -3     0
locrian: root of share          |     9    -1    -1     2    -3     1    17    -3     6    -4    -3    -1
locrian: strong                 |     6     4     0    -3    -1     1     9    -1    -1    -1    -5     0
costs                           |   942  1412   109
constant: ionian                |   194
constant: dorian                |   183
constant: phrygian              |   297
constant: lydian                |   -99
constant: mixolydian            |    81
constant: aeolian               |   401
constant: locrian               |   278
constant: harmonic minor        |    25
constant: locrian natural 6     |  -103
constant: ionian augmented      |  -151
constant: dorian #4             |  -222
constant: phrygian dominant     |    95
constant: lydian #2             |  -374
constant: ultralocrian          |  -164
constant: melodic minor         |  -111
constant: dorian b2             |  -131
constant: lydian augmented      |  -146
constant: lydian dominant       |  -322
constant: mixolydian b6         |   -54
constant: locrian natural 2     |    69
constant: altered               |   -72
constant: major pentatonic      |   105
constant: minor pentatonic      |   482
constant: major blues           |   -68
constant: minor blues           |   269
constant: whole tone            |   -39
constant: whole-half octatonic  |   -75
constant: half-whole octatonic  |  -343
"""

LOOPS = """
share                           |    56  -109   -77    18   -44  -168    36   274    87    90  -112   -52
root of share                   |   287  -121    33   -41   187  -159     5   418  -225  -174  -115   -96
present                         |  -153     7   -39    47    -2   -10    51   -80     4    96    17    62
strong                          |   370   -63     6    41   -19   -96  -176   -79    64   -63     9     5
long                            |  -270    15    15   -13   -36   176   -93  -135   179    94    50    18
low                             |   417   -16    42  -216  -230   -63    23   -43  -244    94   125   111
leapt to                        |  1128   -22  -193   -75  -346  -332   -87   227   -57  -176   149  -217
lowest                          |   132    -7     0  -115    16  -205  -208   -82   122   102   111   133
to root                         |   170  -253  -104    80   348  -370    16    27   292   150    10   175
from root                       |   170    63    15    -7   134   -58   -54   176    88   -13   -30   178
last                            |     0     0     0     0     0     0     0     0     0     0     0     0
first                           |     0     0     0     0     0     0     0     0     0     0     0     0
opening                         |     0     0     0     0     0     0     0     0     0     0     0     0
cadence                         |     0     0     0     0     0     0     0     0     0     0     0     0
half cadence                    |     0     0     0     0     0     0     0     0     0     0     0     0
ionian: share                   |   -62     0     6   -13    75   -20   -12    59    -6    20   -12   -31
ionian: root of share           |   -43     1    23   -43   127   -14   -30    92   -16   -13   -41  -152
ionian: strong                  |  -152     2     2    -9    96   -11    -6   115   -13    21   -11   -28
dorian: share                   |    29     3   -30    15    -1   -10    -7   -14     9    20    -9    -3
dorian: root of share           |    20    10   -76    30     1   -44   -23    -8    29    54   -18   -19
dorian: strong                  |    76     7   -32    -2     2   -19    -8   -33     9     3     3    -4
phrygian: share                 |    11    26     4   -33    -1     5     8    13   -25    -6    -5     7
phrygian: root of share         |    15    66    11   -53    -3    40    30    19   -34   -17     0    28
phrygian: strong                |    21     9     5   -27     0    -5    11     5    -5    -3   -14     7
lydian: share                   |    -3     1   -13    -8    -2    21     6   -17     0     3     6     2
lydian: root of share           |    -2     2   -31   -29    -9    65    27   -22     2    -6    21    12
lydian: strong                  |    38     2   -21    -6    -5    19    -9   -27    -3    -1    13    -3
mixolydian: share               |    33     1   -21     6    24   -40    -4   -26     5    28    -3     1
mixolydian: root of share       |    27     5   -57    13    51   -96   -19   -27    18    34    24     2
mixolydian: strong              |    39     5   -12     9    22   -26    -5   -45     8    18   -13     3
aeolian: share                  |    -6    -7     1    15   -11   -10    -5     8   -13     3    22    12
aeolian: root of share          |    15   -26   -47    26   -38   -40   -24    30   -46    35    33    64
aeolian: strong                 |   -11   -10     5    10   -10   -12    -8    43   -29     2    16    10
locrian: share                  |   -10    -3     1     2    -3     0    22    -1     6    -1    -6    -3
locrian: root of share          |    -9   -22     4     4   -10    -1    34    -2    17    -4    -1   -10
locrian: strong                 |    -9     5     1    -1    -3    -6    18    -1     2    -1    -1    -2
costs                           |   995  1132   206
constant: ionian                |   191
constant: dorian                |   132
constant: phrygian              |   173
constant: lydian                |  -139
constant: mixolydian            |   106
constant: aeolian               |   282
constant: locrian               |   163
constant: harmonic minor        |    49
constant: locrian natural 6     |   -35
constant: ionian augmented      |   -92
constant: dorian #4             |  -264
constant: phrygian dominant     |   125
constant: lydian #2             |  -344
constant: ultralocrian          |  -140
constant: melodic minor         |   -43
constant: dorian b2             |   -28
constant: lydian augmented      |  -215
constant: lydian dominant       |  -199
constant: mixolydian b6         |   -44
constant: locrian natural 2     |   -16
constant: altered               |   -47
constant: major pentatonic      |   216
constant: minor pentatonic      |   398
constant: major blues           |    39
constant: minor blues           |   216
constant: whole tone            |   117
constant: whole-half octatonic  |  -236
constant: half-whole octatonic  |  -361
"""
