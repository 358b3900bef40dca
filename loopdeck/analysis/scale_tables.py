"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops; and of
``bar_lines``.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each
distance above the root, 0 to 11 semitones; the scores are divided by their temperature already.
"""

TUNES = """
share                           |    66   -13   -16   -11    16   -58   -28    75   -26   -42   -50   -45
root of share                   |    32    -3    -3    -8     8   -23    -9    36   -13    -8   -14   -14
present                         |     8     0     0    -4    -1     8    -2     3    -5     6     1    -2
long                            |   218   -57  -141   -71   -17   -67   -68   -13  -141  -137  -155  -179
low                             |    49   -27    26   -34   -24   -43   -20    28   -13   -28   -24   -13
leapt to                        |   191  -295  -165  -185  -200   -83   -14   206   -76  -219   -68   -84
lowest                          |    10   -34   -25    -5    11    -6     6    12   -35   -27    13   -14
to root                         |   266    70    90   221    77  -191  1092   324  -117   -24  -186   123
from root                       |   266    53   101   229    85  -293   471   368   -12  -142   -12   -22
strong                          |    53   -28   -24     0    15   -37   -28    45   -24   -36   -47   -47
downbeat                        |    35   -34   -44    14    22   -13   -23    15   -18   -12   -29   -37
highest                         |    22   -34     9     4     0   -12   -27    -8    -3     4   -24   -10
last                            |    30   -37   -27   -15     0   -22   -34   -12   -32   -20   -18   -21
last but one                    |    17     2     9   -12   -15   -32   -24   -23   -32    -2     9    26
first                           |    14   -30   -22     1    14   -26    -7    20   -11   -17    -8   -19
opening                         |    30   -26   -22     1     7   -23   -17    10    -4   -22   -23    -3
cadence                         |    26     4    14   -27   -14    -7   -24    -5   -28    -6   -11    -3
half cadence                    |    10     2    20    -6   -13     0   -24    10   -34   -16    -4     8
closing bar                     |    40    -8    -4   -24   -11   -30   -17   -34   -21   -19   -35   -25
opening bar                     |    54   -12   -38    -2    34   -37   -14    40   -21   -57   -56   -33
last strong                     |    17   -16   -16    -8    -5    -4   -32   -16   -20   -13   -19    -3
part ends                       |    31   -35   -14   -20    -5   -28   -28   -22   -17   -26    -8    -9
strong time                     |    90   -67   -36     5   -15   -33   -89    26   -26   -79   -47  -110
strong to root                  |    31    32   166   121    48   -38   117   103    16    11    27    73
ionian: share                   |    30   -14    -4   -18    41   -62   -25    26   -10   -16   -31   -40
ionian: root of share           |    13    -5     3    -8    19    -3   -12    11     0    -3   -20    -5
ionian: present                 |     3     1     3    -1     3     8    -1     2     4     2   -13     2
ionian: long                    |   241   -24   -33   -38   144  -115    -5    58   -29   -19   -13   -16
ionian: low                     |    20   -10    39   -12    -5   -34   -17    19    -9   -16   -23   -24
ionian: leapt to                |   -32   -52  -174   -58  -202   -83   -79    76   -58   -84   -14  -191
ionian: lowest                  |     8    -3    -7    -6    15   -30   -11    18     1    -7    -3   -10
ionian: to root                 |   144   -81   129   -94    39  -611  -438   129  -103   126  -267   148
ionian: from root               |   144   -91    99  -124   136   -69 -1188   217   -85    -7  -248    52
ionian: strong                  |    29   -13   -24   -17    35   -57   -20    24   -10   -16   -20   -43
ionian: downbeat                |    12    -8   -31   -12    27   -15   -11    22    -8   -21    -4   -33
ionian: highest                 |    14    -5     5    -5    -2    -7    -9    -4    -4    18    -1     0
ionian: last                    |    13    -5   -22    -6    10    -9    -6     0     1    -5   -12   -21
ionian: last but one            |    21    -3    -3    -7     0   -12   -13   -23   -10   -15    -7    30
ionian: first                   |     5    -5   -29    -6    28   -18    -6    20    -5   -17    -7    -4
ionian: opening                 |    28    -6   -18    -9     7   -19    -5    11    -6   -24   -10   -13
ionian: cadence                 |    21    -4    -3    -6     7     0   -15    -2    -5   -13   -15     6
ionian: half cadence            |    -3    -6    20    -8     2     9    -5    10    -6   -31   -21    34
ionian: closing bar             |    26    -9   -25   -10     3   -22   -13    -8     1   -12   -13   -23
ionian: opening bar             |    48   -16   -28   -13    47   -32    -9     2   -12   -67   -13   -35
ionian: last strong             |     8    -5   -25    -6    14    -5    -7    -3     1    -2    -8    -9
ionian: part ends               |    22    -4   -31    -7    19   -11    -6    -6    -1   -13    -9   -13
ionian: strong time             |    64   -23   -58   -33    41  -148   -38     4   -23   -35   -17  -103
ionian: strong to root          |    59    -2    53   -93    63   -30  -232   124   -71    13  -136    20
dorian: share                   |    21   -10    11     4   -12   -33    -8    48   -35    37   -30   -26
dorian: root of share           |    11    -6     7    -6    -4   -13    -4    18   -32    40   -10   -23
dorian: present                 |     2    -4     3    -6     2     2    -1     2   -24    40     3   -16
dorian: long                    |    95   -21    36   -40   -40   -52   -24    87   -43    44  -116   -37
dorian: low                     |     3    -7    31     5    -6   -21    -3    25   -13   -15   -25   -11
dorian: leapt to                |   123   -30   -14  -120     2   -51     1   172   -40    10   -43   -43
dorian: lowest                  |     1    -3   -16     8     6   -20    -3     7    -5   -10     4   -12
dorian: to root                 |    32   -56   -14   251  -169  -467  -375   318  -224    14    48  -583
dorian: from root               |    32   -51    57   314  -109  -221  -208   281  -250   163  -160  -355
dorian: strong                  |    28    -9    10     6    -5   -23    -8    25   -27     1   -32   -19
dorian: downbeat                |    27    -6   -15    -2     6     2    -6    11   -14   -25   -19    -9
dorian: highest                 |    -6    -3     8     8   -11    -2    -3    -6    -9    17   -20    -4
dorian: last                    |    23    -3   -20   -11    -4   -12    -4   -31    -4     0   -11    -5
dorian: last but one            |    -2    -3     9    -4    -7   -15    -7   -11    -5    -9    15    -6
dorian: first                   |     2    -2     6   -10    -5   -28    -3    22    -9   -13    -6    -3
dorian: opening                 |    14    -3    -7     1    -7   -18    -3    11    -5   -23    -6     1
dorian: cadence                 |    14    -5     3    -7    -7     9    -5   -13   -19     4   -19    -1
dorian: half cadence            |    12    -6    21   -11   -14   -22    -6    -2    -5    -3    -5   -13
dorian: closing bar             |    12    -5    18    -9    -8    -4    -6   -18   -11   -14    -8   -11
dorian: opening bar             |    24    -7     4     1   -18   -59     6    44   -16   -15   -24   -24
dorian: last strong             |    13    -3    -7   -16    -6     0    -4    -8    -4    -8   -14    -1
dorian: part ends               |    23    -4    13   -19    -4   -27    -4   -20    -6   -12    -8    -4
dorian: strong time             |    25   -17    30   -42   -22   -43   -18     9   -43   -29   -93   -32
dorian: strong to root          |   -67  -118    83   104   -11    22  -144   118  -132   -87    90  -383
phrygian: share                 |    36     2    -9    -1   -11   -14   -12    16    -2   -11   -18   -11
phrygian: root of share         |    13     8    -4     2    -7    -3    -7    10     1    -7    -2    -6
phrygian: present               |     2     6    -2     2    -4     2    -4     3     3    -4     2    -3
phrygian: long                  |    80   -53   -30   -76   -26     3   -28   -70  -162   -24  -216   -23
phrygian: low                   |    15   -15    -6    -8    -7    -9    -8    12    -1    -7    -4    -7
phrygian: leapt to              |   213  -133   -34   -90   -30  -147   -32    74   -15   -28  -103   -28
phrygian: lowest                |     7   -20    -5    -5    -3     9    -5   -18   -34    -3    -4    -3
phrygian: to root               |   163   145   -62    65   -61    71  -165   347   -53   -62   -10  -117
phrygian: from root             |   163    80    45   -54   -94  -512  -216   331    55   -47    36   -98
phrygian: strong                |    22   -30   -11     8   -10     6   -11     7    -4   -10   -20   -10
phrygian: downbeat              |    11   -36    -8     9    -7    16    -8   -17    -8    -6   -16    -7
phrygian: highest               |    11   -27    -5     0    -4   -36    -4   -17     2    -3   -29    -3
phrygian: last                  |    22   -30    -3   -37    -5   -22    -3   -11   -32    -3    -5    -3
phrygian: last but one          |     4     7    -5     1    -5   -30    -3   -22   -30    -4     0    -4
phrygian: first                 |     7   -16    -4     3    -3   -30    -3   -10    -6    -3    -5    -3
phrygian: opening               |    -4   -18    -4     2    -3   -27    -4     6     4    -3   -22    -4
phrygian: cadence               |     6     7    -7   -47    -5   -13    -5   -32   -34   -10    -3    -6
phrygian: half cadence          |     4     1    -9     8    -6    -7    -6    -1   -39    -8   -24    -7
phrygian: closing bar           |    29     1    -6   -44    -8   -33    -6   -29   -28    -5   -13    -5
phrygian: opening bar           |     6     3   -10    -9    -7    -2    -7    15    -2    -7   -42    -7
phrygian: last strong           |    15   -19    -4    -5    -5    -4    -3   -14   -30    -4    -3    -3
phrygian: part ends             |    21   -34    -5    -5    -5   -13    -4   -14   -17    -4     0    -4
phrygian: strong time           |    49   -87   -18    30   -20    24   -21    60    20   -18     3   -18
phrygian: strong to root        |    23    37    48    85   -61  -314  -116    35    81   -43  -185  -136
lydian: share                   |    35     5    -4     4   -33    -8    -3    14     2   -51     4   -20
lydian: root of share           |    10     2    -1     1   -10    -4    20     5    -1   -13     1    -8
lydian: present                 |     0     0    -1     0    -1     1    20    -1    -3    -1     0     0
lydian: long                    |    56     8  -193    10  -210   -15   -58  -169     7  -191     8  -199
lydian: low                     |    34     1   -30     3   -36    -5    -7    14     2   -12     3    -3
lydian: leapt to                |    94    10     7    11   -91   -18    68    68    12  -182     8    32
lydian: lowest                  |     0     0   -30     1   -18    -2    15     1     0   -24     1   -14
lydian: to root                 |   163    16    70    14    29   -16   -69   189    19  -107    11    28
lydian: from root               |   163   155    89    13   -18   -29   -87   213    18   -36    12    -6
lydian: strong                  |    29     3   -12     4   -31    -6    -8    14     3   -38     3   -15
lydian: downbeat                |    13     1   -55     2    -8    -3    -1    15     2   -10     2   -14
lydian: highest                 |     5     1   -27     1     0    -8    -7     2     1    -6     1   -28
lydian: last                    |    17     1   -28     1   -27    -1    -7     2     1   -10     1   -10
lydian: last but one            |     7     0   -26     0   -27     1   -15    -9     0    10     1   -31
lydian: first                   |     4     1   -25     1   -32     0   -11    12     1    -2     1   -24
lydian: opening                 |     2     1   -25     1     6    -2   -19     2     1   -35     1     1
lydian: cadence                 |    -2     0   -23     1   -10   -11    -7     3     0     5     1   -16
lydian: half cadence            |   -14     1   -33     1    -6   -12   -14     8    -1     6     1   -18
lydian: closing bar             |    27     8    -2     2   -50     6     8   -20     1     3     1   -26
lydian: opening bar             |    12     2     2     2    -2    -4   -32    18     2   -44     3   -10
lydian: last strong             |    13     1     5     1   -27     0    -4   -19     1    -9     1    -2
lydian: part ends               |    16     1     5     2   -39    -1    -9   -22     1   -13     2    -1
lydian: strong time             |    40     5   -14     8  -121   -14   -43   -13     6   -93     6   -44
lydian: strong to root          |    32   -12    60    21  -105    30    49   -29   -19   -12    -2    35
mixolydian: share               |    35    -6   -48   -18    66   -29    -7    15    -3    -8   -17   -37
mixolydian: root of share       |    15    -5   -11   -12    31   -12    -6     7    -1    -2    18   -26
mixolydian: present             |     1    -4     1    -6     4     0    -6     1     0     2   105   -13
mixolydian: long                |   106   -14   -93   -19    22   -63   -21   -69   -13   -58   -72   -51
mixolydian: low                 |    28    -5   -20   -12    16   -22    -5     9     3   -15    -7    -1
mixolydian: leapt to            |    36   -12  -209   -28    16   -26   -15    22    21  -119    19   -12
mixolydian: lowest              |    11    -2   -19    -4     9     3    -3    -1    -2   -23     7   -23
mixolydian: to root             |    97    46    23  -106   273   -87  -244     8   -41   -22   185  -460
mixolydian: from root           |    97   -47   -33  -265   180   -40  -146   246   -34  -177   261  -485
mixolydian: strong              |    25    -6   -27   -18    52   -19    -7     6    -3    16   -39   -29
mixolydian: downbeat            |    14    -4    -7   -14    33   -21    -4   -18    -3    36   -40   -16
mixolydian: highest             |     7    -2    -3     1    21    -1    -1    -7    -2   -12   -10    -6
mixolydian: last                |    19    -2    -8    -3     2   -14    -2   -22    -1   -27     3    -4
mixolydian: last but one        |     8    -4     8    -3    -7   -33    -3    -6    -2    -9     9     6
mixolydian: first               |    12    -1   -10    -3    12    -4    -1    -8    -1   -20     4    -4
mixolydian: opening             |    19    -1    -6    -2     4    -4    -1   -21    -2     9   -21    -3
mixolydian: cadence             |    18    -3     9    -6   -20    -3    -7    11    -6   -31     1   -21
mixolydian: half cadence        |     2    11    -3    -5    -3    -2    -8   -13    -3   -13    26   -33
mixolydian: closing bar         |    23    -4    -4   -14    17   -20    -3   -31     3   -23   -21     2
mixolydian: opening bar         |    28    -5   -67   -13    44    -7     1     2    -3     4   -46   -10
mixolydian: last strong         |    12    -2    -7    -3    -5    -2    -2   -14    -1   -21    -6     1
mixolydian: part ends           |    14    -2    -7    -4     2   -14    -2    -7    -2   -31     6    -6
mixolydian: strong time         |    66   -10   -23   -29    71    31   -15   -10    -1    38   -20   -36
mixolydian: strong to root      |    20   -54    89  -177   168  -140   -91     2   -28    24   -51  -212
aeolian: share                  |    32   -32    39    22   -30   -48   -25    57   -51   -41   -47     8
aeolian: root of share          |    17   -17    20    15   -15   -10   -11    24   -12   -10    -9    33
aeolian: present                |     5    -7     9     6    -5     5    -4     5    49    11     5    26
aeolian: long                   |   125   -66   -34    39   -67  -100   -62    95  -145   -91    -5   -39
aeolian: low                    |    39   -21    52   -57   -17   -34   -16     4   -27   -26    -6    -1
aeolian: leapt to               |    61   -83   -98  -113   -76   -61   -70    78  -211  -124  -125   -59
aeolian: lowest                 |    -7    -9   -13   -10    -9     6    -8    21   -30   -22    16     2
aeolian: to root                |   161  -312   141     6  -172  -685  -476   344  -429  -406  -347   651
aeolian: from root              |   161  -264    90   -34  -297  -345  -524   256  -210  -290   -50   446
aeolian: strong                 |    24   -28    25    32   -26   -57   -22    60   -45   -41   -27    -3
aeolian: downbeat               |     4   -18    -7    37   -17   -36   -13    32   -25   -28   -13    -9
aeolian: highest                |    17   -10    13    -2   -10     7    -8     2    -6   -29   -13    -4
aeolian: last                   |    26   -11     3    -1    -8   -27    -8    -9   -25   -10   -36    -9
aeolian: last but one           |    27    -9    20   -21   -11   -30    -8   -21   -14   -12   -26    25
aeolian: first                  |     6    -8    -8     6    -8   -19    -8    17   -10   -11   -14    -9
aeolian: opening                |    24    -9   -21     1    -9   -22    -5    24   -25   -11   -23   -10
aeolian: cadence                |    19   -14    39   -10   -13   -15    -4     3   -13    24    -3    12
aeolian: half cadence           |    10   -15    24   -26   -11    19    -5     3   -23    -1    -4    15
aeolian: closing bar            |    34   -15    29     0   -15   -42   -13   -24   -23   -20   -53     5
aeolian: opening bar            |    38   -20     4    21   -25   -40   -13    35   -49   -22   -46     5
aeolian: last strong            |    19    -9     4     2   -10   -19    -9   -10   -11   -11   -33    -8
aeolian: part ends              |    34   -11   -10   -20   -16   -26   -10    -1   -14    -8   -19   -13
aeolian: strong time            |    71   -51    29    83   -44   -83   -44   141  -101   -83    31   -17
aeolian: strong to root         |   -13  -272   183    12  -107    36  -217   133  -148  -269    -4   153
locrian: share                  |    42   -20    11    -6    11   -41    45     6   -22    11   -33    10
locrian: root of share          |     8    -6     5    -4     5   -15    13     1    -7     5   -12     4
locrian: present                |    -2    -2     1    -3     2    -2     0    -2    -1     1    -2     1
locrian: long                   |   138    -8    18   -26    21   -45   122    14   -38    21  -102    19
locrian: low                    |    32    -3     6   -13     6   -25    36     3   -30     7   -17     6
locrian: leapt to               |   141  -116    27  -126    20   -89   195     9  -152    20  -142    22
locrian: lowest                 |    17   -13     2    -6     2    -4    12    -1   -13     1    -2     1
locrian: to root                |   176   -19    32    60    24    98   961   -54  -232   -19    41    18
locrian: from root              |   176   -47    29   -63    20   -71  1205   -36    30    10     8    27
locrian: strong                 |    39   -23    10     6    10   -31    27     6   -17    10   -32     9
locrian: downbeat               |    13   -18     6    20     6   -10    -1     4    -7     6   -26     5
locrian: highest                |    17    -5     2     2     2    -9    -4     2    -8     2   -17     1
locrian: last                   |    33   -10     2   -20     2    -3    -4     2   -15     2   -16     2
locrian: last but one           |     3    -5     2   -15     4    -5     0     2   -13     2    13     2
locrian: first                  |    12   -12     2    -3     2    -5    24     2   -17     1   -14     2
locrian: opening                |    12   -13     3    10     2   -10    14     2   -22     2   -12     2
locrian: cadence                |     4     1     2   -16     3     6     0     2   -19     3    -1     2
locrian: half cadence           |     1     5     2   -10     3     7    -5     1   -14     1   -10     3
locrian: closing bar            |    39   -10     4   -24     5   -14    -1     3   -18     4    -3     4
locrian: opening bar            |    29   -20     7    18     6   -34    36     4   -29     7   -35     6
locrian: last strong            |    20    -1     2    -9     2    -3   -10     2    -9     2   -13     2
locrian: part ends              |    28    -8     3   -11     3    -8    -2     2   -13     3    -7     3
locrian: strong time            |    93   -18    18     3    18   -50    51    11   -27    18   -65    16
locrian: strong to root         |    56   -58    14    67     5  -102   352     0   -78    -4    33     4
costs                           |   691  1061   198
constant: ionian                |   112
constant: dorian                |   107
constant: phrygian              |   133
constant: lydian                |    93
constant: mixolydian            |    68
constant: aeolian               |    99
constant: locrian               |     0
constant: harmonic minor        |   -24
constant: locrian natural 6     |   -25
constant: ionian augmented      |   -42
constant: dorian #4             |   -59
constant: phrygian dominant     |     7
constant: lydian #2             |   -59
constant: ultralocrian          |   -28
constant: melodic minor         |   -57
constant: dorian b2             |   -49
constant: lydian augmented      |   -38
constant: lydian dominant       |   -60
constant: mixolydian b6         |   -61
constant: locrian natural 2     |   -21
constant: altered               |   -20
constant: major pentatonic      |   -15
constant: minor pentatonic      |    67
constant: major blues           |   -41
constant: minor blues           |    20
constant: whole tone            |    -4
constant: whole-half octatonic  |   -14
constant: half-whole octatonic  |   -35
"""

LOOPS = """
share                           |   -40   -11  -193   -20  -113   -53    12   272   147   115   -63   -53
root of share                   |   210    47    85    22   133  -190    26   290  -259  -220   -94   -49
present                         |  -154    10   -18    39   -10    27    26   -22   -11    68    -8    54
long                            |  -165   -33    -2    21   -61   -33   -45  -195    59   211   250    -5
low                             |   523   -23    96   -81  -195   -70    -2   -59  -304    55   -40   100
leapt to                        |  1129   113  -112  -199  -309  -412   -86    92    -6  -277   190  -123
lowest                          |   194    68    44   -24    60  -188  -213  -101    55    29    12    62
to root                         |   371   113   -69   112   522  -187   -72  -206   142   196    39   116
from root                       |   371  -120    28   -86  -136   -30   124   346   120  -121   -78   216
strong                          |   -44  -263    99   -26    29    48    65    46    32   -32    -7    53
downbeat                        |   116    54    -9     2   -18   -26   -30   -32   -44    -7     0    -6
ionian: share                   |   -58   -14   -10   -21    82   -29    -9    37     3    16     8     1
ionian: root of share           |   -13   -40   -15   -73    54   -67     2    60    27   -25    28   -49
ionian: strong                  |  -110   -16    -2   -20    92   -43    -4   105     0    25    11   -32
dorian: share                   |    37     5   -13   -15     9     0   -15   -12    18    18   -35     8
dorian: root of share           |    17    13   -25    10    38    15   -55   -22    59    70   -85     1
dorian: strong                  |    58     3     2   -20    12   -24   -13   -32    17    11   -25    18
phrygian: share                 |    24    30     5   -22    -9    15     9    20   -37   -14   -14     0
phrygian: root of share         |    31   125    20   -66   -30     1    32    37  -100   -51   -40    -1
phrygian: strong                |    12    13     1    -5   -11    17     7    11   -20   -18     3    -4
lydian: share                   |    28     6     9    -4     2    14     5    -5     4    -9    -6   -45
lydian: root of share           |    29    15   -26   -11   -13    47    68   -18    19   -45   -21  -154
lydian: strong                  |    34     3   -14    -3     5    18    20    -4     5   -22    -6   -37
mixolydian: share               |    64    10    -6     8     8   -45     1     5   -10   -20   -14     8
mixolydian: root of share       |    44    31   -64    23    69   -58    -8     0   -37  -111   -82    23
mixolydian: strong              |    78    16   -14    12   -17   -41    -2   -22    -7   -31    11    25
aeolian: share                  |    27    -9    -6   -15   -11    -7    -5    -3    23     5     8     3
aeolian: root of share          |    43   -35  -140  -102   -37   -27   -20    25    63    50   -44    39
aeolian: strong                 |   -28    -5    11    -7   -10   -36    -2    37    17     4    20     6
locrian: share                  |    30    -7    -2   -21    -6     8    21    -2    13    -8   -13    -7
locrian: root of share          |    34   -33    -8   -45   -24     5    47   -10     7   -28   -40   -21
locrian: strong                 |    27   -13     0   -33    -5     8    31    -6     9    -7    -3    -2
costs                           |   878  1144   308
constant: ionian                |   195
constant: dorian                |   171
constant: phrygian              |   218
constant: lydian                |   -27
constant: mixolydian            |   232
constant: aeolian               |   334
constant: locrian               |   207
constant: harmonic minor        |   -12
constant: locrian natural 6     |   -30
constant: ionian augmented      |   -67
constant: dorian #4             |  -268
constant: phrygian dominant     |    82
constant: lydian #2             |  -394
constant: ultralocrian          |   -40
constant: melodic minor         |  -129
constant: dorian b2             |  -129
constant: lydian augmented      |  -167
constant: lydian dominant       |  -192
constant: mixolydian b6         |   -57
constant: locrian natural 2     |    28
constant: altered               |    -4
constant: major pentatonic      |    82
constant: minor pentatonic      |   259
constant: major blues           |   -40
constant: minor blues           |   134
constant: whole tone            |   -30
constant: whole-half octatonic  |  -146
constant: half-whole octatonic  |  -197
"""

BAR_LINES = """
on bar lines                    |   239
long there                      |   773
long before                     |   -91
leaps there                     |    66
on groups                       |   338
long on groups                  |   676
low there                       |    18
on counts                       |  -213
ends on one                     |  -281
ends on a group                 |    78
ends with a bar                 |    84
closes long                     |   693
whole parts                     |   -80
whole halves                    |    96
none                            |   108
an eighth                       |   277
a sixteenth                     |    19
a quarter                       |   235
three eighths                   |    54
a half                          |  -241
more than half a bar            |  -101
off the counts                  |    10
pickup's length                 |  -355
none, whole bars                |   -44
some, whole bars                |    14
none, first long                |    90
"""
