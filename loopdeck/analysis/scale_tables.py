"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each
distance above the root, 0 to 11 semitones.
"""

TUNES = """
share                           |   187  -110   -85    95    68  -111   -44   142   -90    71  -183    61
root of share                   |   282   -73   -87  -121   328  -198   -15   298  -203   -24  -140   -46
present                         |   -11    39    -7    34   -72    24    13   -90     6    59    30   -25
strong                          |   152  -127   -58    26   173  -105   -54   105   -42   -58   -45    32
downbeat                        |   115   -31     3    54   -70   -49   -61   -32   -31    60    65   -23
long                            |   479    27  -204    46   -53    34    31   -46  -131  -165   -13    -4
low                             |   211  -138   189  -181  -144   -67    18    74   -41    20    58     0
leapt to                        |   401   -87   -51  -264  -216   -16    62   315  -113  -167    79    59
lowest                          |    27   -74   -21    22    29   -27   -12   -27     3    14    98   -32
to root                         |   229    38  -116     4   -20   -95    91    19   -69   -11  -325   178
from root                       |   229    39   121    -6  -101   -66    15   179   -26  -157   -88  -147
last                            |   164  -108   -21    48   -31    12   -33   -14   -24    25    38   -55
first                           |    -5   -82   -27    37    21   -12     4    66    28   -18   -11    -2
opening                         |    30   -13    12   -44    73   -49    47    13   -82     7   -25    30
cadence                         |    71    59     7   -54   -10   -37     8   -39     7     4   -21     5
half cadence                    |   -54    98    37   -38    22     4   -10    28   -60   -12   -56    42
ionian: share                   |   -37     0    -7    -1    52   -23    -5    -7     8    11     6     7
ionian: root of share           |   -47     1    -8     2    83    -8   -14    -4    47    -7    11   -18
ionian: strong                  |   -66     0    -4     0    52   -25    -2    20     6    18     7    -2
dorian: share                   |   -36    -2    -4    26     4    26    -1    10    -4     9    -6   -19
dorian: root of share           |   -36    -8   -11     4    24    19    -7    15   -31    17   -19  -103
dorian: strong                  |    -6    -2    13     9     2    19     0   -13    -4    -7    11   -18
phrygian: share                 |     3    -7     3     5    -4     6     0     3    14    -3   -12     0
phrygian: root of share         |     9     1    13    12   -18     6    -3    12    30   -18   -17    -2
phrygian: strong                |     6   -14     1    16    -4    -9    -1    17    15    -3   -16    -1
lydian: share                   |    17     1     6    -1    -3    -1    -8    11    -3   -14    -1    -6
lydian: root of share           |    24     4    11    -5     3     2     3    14   -16   -16    -4   -12
lydian: strong                  |    10     0    -6     0     2    -2   -12    26    -2   -19    -1     1
mixolydian: share               |    11     2   -15     0     1     4    -2    -7     3    11    -3    -4
mixolydian: root of share       |    13     7   -20    -2    12    -7   -16   -12    15    19    12    -8
mixolydian: strong              |    12     2   -26    -2    11    27    -2   -39     3    22    -5    -3
aeolian: share                  |    16    -3    28   -11    -5   -15     0    17   -43     2     2    21
aeolian: root of share          |    25   -13    38   -12   -15   -13     5    34   -99    39     8   134
aeolian: strong                 |   -24    -2    26     4    -4   -19     1    40   -35    -5     7    19
locrian: share                  |     4    -2    -1     3    -1     1     9    -1     1    -2    -4    -1
locrian: root of share          |     7     0    -3     6    -4     2    16    -6     8    -8    -4    -4
locrian: strong                 |     4     2    -1     0    -1     3     8    -1     3    -3    -7    -2
costs                           |   955  1363   111
constant: ionian                |   195
constant: dorian                |   186
constant: phrygian              |   286
constant: lydian                |   -96
constant: mixolydian            |    90
constant: aeolian               |   395
constant: locrian               |   270
constant: harmonic minor        |    42
constant: locrian natural 6     |  -232
constant: ionian augmented      |  -145
constant: dorian #4             |  -233
constant: phrygian dominant     |   113
constant: lydian #2             |  -386
constant: ultralocrian          |  -195
constant: melodic minor         |  -112
constant: dorian b2             |   -81
constant: lydian augmented      |  -180
constant: lydian dominant       |  -266
constant: mixolydian b6         |   -72
constant: locrian natural 2     |    99
constant: altered               |   -85
constant: major pentatonic      |   106
constant: minor pentatonic      |   469
constant: major blues           |   -67
constant: minor blues           |   267
constant: whole tone            |   139
constant: whole-half octatonic  |  -153
constant: half-whole octatonic  |  -351
"""

LOOPS = """
share                           |   155   -82  -129   -24   -96  -201   -87   322    83   252  -151   -42
root of share                   |   286  -153   155   -88   185  -221  -100   416  -167  -148  -133   -31
present                         |  -123    26   -84    71     3    -1    47   -87    -6    87    13    55
strong                          |   -42   -97    39    55    70   -92   184   -16    54   -81   -49   -24
downbeat                        |   160    70    13     1   -35    -1   -75   -45   -69   -27    -4    13
long                            |  -172    29   -15     5   -39     6    97  -188    16    60   170    31
low                             |   488   -10   -45  -141  -359    49    16     1  -225    43   129    54
leapt to                        |   995    53  -225   -78  -317  -323    69   175   155  -264    54  -295
lowest                          |   120    21    -9  -118    35  -241  -256   -76   149   159   107   110
to root                         |   182   -50  -214    79   418  -139   -69    16   365   150  -170    50
from root                       |   182     1    36   -11   -62   -83    36   246    14  -129    26   134
last                            |     0     0     0     0     0     0     0     0     0     0     0     0
first                           |     0     0     0     0     0     0     0     0     0     0     0     0
opening                         |     0     0     0     0     0     0     0     0     0     0     0     0
cadence                         |     0     0     0     0     0     0     0     0     0     0     0     0
half cadence                    |     0     0     0     0     0     0     0     0     0     0     0     0
ionian: share                   |   -12   -12    -4   -24    95    -9    -9    48    -7    -5   -13   -43
ionian: root of share           |    13   -46     5   -88   134     7   -19    81   -15   -52   -42  -155
ionian: strong                  |  -122   -14     9   -21   122   -15   -10   117    -5     8   -13   -52
dorian: share                   |    15    11    -5     8     9   -18    -4   -27    -1    21    -8     1
dorian: root of share           |     8    34   -62    35    35   -58   -18   -25    -5    47   -10    -4
dorian: strong                  |    30    18   -16   -37    12   -23     4   -30     0    31     8     6
phrygian: share                 |   -19    24    17   -17     5     6     4    14   -32     2   -21    19
phrygian: root of share         |   -20    66    46   -18     6    23    23    13   -24     8   -25    53
phrygian: strong                |     0    19    26   -35     1     7    14   -11   -30     8    -9    14
lydian: share                   |    -9     4     2     1    -5     4     0   -26     5    -5     6    21
lydian: root of share           |    -4    17     0     1     8    16    17   -39    16    -2    15    35
lydian: strong                  |    21    -1    -5    -1    -8     2     8   -26     1   -27     0    32
mixolydian: share               |    27    23     4    -1     0   -61    -7   -19     9    10     6    12
mixolydian: root of share       |    11    70   -16    -8    20  -111   -29   -37    33     6    14    36
mixolydian: strong              |    40    31    14    -3     1   -48   -10   -41     9    -8    -1    18
aeolian: share                  |    25   -12     9     9   -11     1   -10    28   -52    11    15    -7
aeolian: root of share          |    35   -43   -34     3   -43   -21   -36    50  -115    64    23    15
aeolian: strong                 |   -37    -4    -5    35   -12    -1    -9    58   -43     4    15     5
locrian: share                  |    14   -19    -3   -13    -1     8    15    -3     5    -2     8    -7
locrian: root of share          |    14   -53   -10   -15    -5    19    30   -12    13    -7    16   -21
locrian: strong                 |    -4   -14    -3   -15     0    27    16    -2    13    -4    -2    -8
costs                           |  1037  1270   206
constant: ionian                |   174
constant: dorian                |   151
constant: phrygian              |   174
constant: lydian                |  -144
constant: mixolydian            |   142
constant: aeolian               |   275
constant: locrian               |   135
constant: harmonic minor        |    53
constant: locrian natural 6     |   -58
constant: ionian augmented      |  -101
constant: dorian #4             |  -256
constant: phrygian dominant     |   126
constant: lydian #2             |  -447
constant: ultralocrian          |  -166
constant: melodic minor         |   -61
constant: dorian b2             |  -108
constant: lydian augmented      |  -161
constant: lydian dominant       |  -212
constant: mixolydian b6         |   -35
constant: locrian natural 2     |   -13
constant: altered               |   -71
constant: major pentatonic      |   236
constant: minor pentatonic      |   459
constant: major blues           |    45
constant: minor blues           |   267
constant: whole tone            |    69
constant: whole-half octatonic  |  -139
constant: half-whole octatonic  |  -329
"""
