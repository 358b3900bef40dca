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
share                           |     0  -117  -107   -18   -72   -38    12   182   -60   -65   -54  -115
root of share                   |    28   -21   -37     5   -19   -40     6    92   -61   -25   -53   -46
present                         |   -64    10    -3    10    -4    -4    -1    20   -22    16   -14     0
long                            |    11   -99  -105  -160   -35  -112   -15  -216    25    87    90    47
low                             |   438   -29    -1   -59  -109  -142   -65   -79  -321  -157   -77   -24
leapt to                        |   693  -231  -177  -381  -276  -568  -337    39  -196  -254     1    22
lowest                          |   101   -42   -37   -89   -52  -211  -102   -82    10    -9    -7    59
to root                         |   244   -17  -119    31    77  -296  -342  -386  -217    49   149   255
from root                       |   244  -167    62   113  -103   122   190   278   235    69   -25   112
strong                          |    25  -101    -3   -45   -36    -5    13    -5   -37   -73   -53   -49
downbeat                        |    -3    -2    -1   -10    -5   -12   -27   -38   -25   -15   -21    -3
before rests                    |    -5   -27   -10   -21     6    -5   -22   -23    16    -4    21     1
after rests                     |    15   -40    11   -34    26   -21   -63   -24   -13    15     7    29
opens rounds                    |    57   -18   -43   -15   -29   -29   -25    -8   -33   -11    -6   -46
surely strong                   |   -79   -96    29    -3    16   -47   -63    97  -111   -16   -43   -26
surely downbeat                 |    86    -6   -24   -37   -72   -17   -48  -127   -77   -41   -66   -29
surely opens rounds             |    83    41   -55    -5   -95  -108  -105  -221   -33   -85    11   -56
ionian: share                   |   -26   -67    -1   -68   144   -66   -41    56   -42    17   -21    94
ionian: root of share           |    12   -43   -16   -52    14   -57    -8    37   -18   -12    -4    58
ionian: present                 |     8   -20   -20   -28   -56   -26    11     7    -4   -11     1    10
ionian: long                    |    44   -82   -41   -54   -90   -40   -15  -181   -16  -102    47   -72
ionian: low                     |    47   -54    43   -44   -84   -48    -9    86   -17    50   -46   -16
ionian: leapt to                |   125   -89  -365  -183  -169    47   -47  -488   -18  -247    48  -250
ionian: lowest                  |    33     2    14   -16    90   -17     7    22    21   -32    -7   -83
ionian: to root                 |   -37  -296   161  -970   445  -122 -1399   122  -414  -100  -706  -349
ionian: from root               |   -37  -586  -127  -276  -107   173  -114     6    11  -190  -185   153
ionian: strong                  |    -3   -51    -1   -61   119   -78   -31    54   -33     0   -16    34
ionian: downbeat                |   -35   -22    -8   -43    20     5   -15    38   -13    30     7    19
ionian: before rests            |    12    -8   -72    -7   -54     8   -49    -8   -29   -37   -11   -25
ionian: after rests             |    -9   -23   -18   -20   -52   -14   -58   -10     4   -59   -15   -20
ionian: opens rounds            |   -63    -1   -66   -41  -125   -46   -30  -113    -8   -61    -3   -29
ionian: surely strong           |    33   -84    53   -55   187   -76     5   124   -31    95   -28   -20
ionian: surely downbeat         |    -8   -40    24   -30    75     1     0   110   -37    31     3   -53
ionian: surely opens rounds     |   -78   -39  -112   -34  -167  -122   -16  -171   -23  -137   -11  -146
dorian: share                   |    11    -6    -7   -14    24    -9   -44    74    28    66  -110   -45
dorian: root of share           |     5    -2     6    40    27    -1   -32    44    24   105   -84   -45
dorian: present                 |    -2    -1     8    35    16    10   -17    17    11    63   -34   -33
dorian: long                    |   -47    36   -29    49    93    -3    -8    49    40   -54     0   -28
dorian: low                     |    99    -8   -19   -16    18   -45   -27   -29   -19   -91     9    26
dorian: leapt to                |    72   -45    30   -30   118  -243     5   -12   138    43   417    12
dorian: lowest                  |    -6   -24     3   -23    -1   -72    10   -27     5   -13    37    96
dorian: to root                 |    66  -573   -70   135  -900   -71 -1277    99  -717   389     9   662
dorian: from root               |    66  -179   175  -140   830    37   434  -133   948   -30   -17    84
dorian: strong                  |     1    -7   -12     7    38   -26   -38    18    29    19   -41   -18
dorian: downbeat                |     2     4     3    -9    22   -31   -32   -26    -6     0    12    21
dorian: before rests            |   -14   -28    17    34   -32    36     8    21   -25   -20    29    -9
dorian: after rests             |     1     8    30     6    16    41   -29   -33     3   -51    31    35
dorian: opens rounds            |   -13   -12   -10   -16    54    -1   -17     6    -4   -32   -30    36
dorian: surely strong           |   -50    13    -6   -51    10    10   -51   -26    32    43   -53   -57
dorian: surely downbeat         |    24    -3     1   -83     1   -41   -15   -62     2    12   -26    -6
dorian: surely opens rounds     |    21    -7    45   -46     1    -7   -11   -22     2    47    24    20
phrygian: share                 |     9     1   -34    26   -45    43    11   120   -37   -47   -26   -33
phrygian: root of share         |    19    86   -17   -24   -30   -16    14    75   -60   -38   -42   -19
phrygian: present               |     7    81    -4   -30   -14   -25     9    20   -44   -23   -31    -6
phrygian: long                  |   -76  -148   -37    14   -42    81   145     2   -33   -43    78   -75
phrygian: low                   |   108   -41   -15    -8   -26   -35    -6     5    21    -7   -30   -31
phrygian: leapt to              |    29   219     4  -255   -22    -2    57    97   207   -57   -40    29
phrygian: lowest                |   -10    -5    -3    -9    -6   -34    13    -5     5    -9     6    53
phrygian: to root               |    60   221  -540  -154  -789   342  -354   -46   122  -517    74   -53
phrygian: from root             |    60   190   182  -308   -98   291   406  -207    -3  -377     8   210
phrygian: strong                |    -4    -4   -37    18   -37    37    -4    42   -23   -47    53   -32
phrygian: downbeat              |    -3   -10    -5    -9    -5   -11     2     9    12   -10    14   -19
phrygian: before rests          |    -2     6    58    53   -29     7   -17     1   -41   -31    82   -35
phrygian: after rests           |     2    34   -20    50   -26    39     8     8   -19    21   -14   -18
phrygian: opens rounds          |     7     7   -12    13     0   -20    -3   -13    31   -12    27     9
phrygian: surely strong         |    12   -63   -26    47   -31    -4    -1    98   -74   -67   -15   -42
phrygian: surely downbeat       |    12   -45     7   -19     5    13     5    10     5     4   -77     0
phrygian: surely opens rounds   |    17    15    -9     3    -9   -21    -7     4    30    -8   -31   -27
lydian: share                   |     2    22   -19   -14    25    25    33   -36     0   -14   -26    -4
lydian: root of share           |     2    16   -41    -9   -14    18    88   -23     4   -17   -24   -56
lydian: present                 |    -3     7   -31    -3   -20     8    67     5     4   -11   -14   -46
lydian: long                    |    23   100    -4   -56   -18    74  -156    53   -49  -137   -28   155
lydian: low                     |    77    17    53   -10   -26     3  -106    -8     7   -80    13    -4
lydian: leapt to                |   -38    86  -181    62  -137    60   -56    -4    93  -236   -41    44
lydian: lowest                  |    41    -1   -19    17   -44    -4  -113    59    14    21    16   -56
lydian: to root                 |   -33   -59   182  -626   343  -298   732   -82  -252   -66  -285  -223
lydian: from root               |   -33   144     4  -181    28   322   169    96   424   -28  -453   -90
lydian: strong                  |   -31     8   -34    -6     6    35    43    -5    10    -1   -17    12
lydian: downbeat                |   -17    -6    -8    14     7    12    -8    26     2     2    -9   -13
lydian: before rests            |    25    -3   -23   -23   -20    15    24    -4    19     6    14    -1
lydian: after rests             |   -19    -8   -23    -5    28   -34    34    13    19     5     5    27
lydian: opens rounds            |    32   -22   -10    13   -28    -2    21    33    -1   -12   -29    11
lydian: surely strong           |    36    17   -47   -11    60    34    24   -71    -5    35   -18   -36
lydian: surely downbeat         |     3     0    -7     1    38     2    -9   -30     5    -3    10   -34
lydian: surely opens rounds     |    14    -3    32    -3    32    -2     7   -28     0     4    25    13
mixolydian: share               |     2     2    16   -15   112   -73   -21    75   -69    19   -25   -78
mixolydian: root of share       |     9     6   -23    -8   112   -15   -17    43   -56   -41   -45   -54
mixolydian: present             |    -2     6   -27    -5    57    12   -13    21   -32   -32   -41   -24
mixolydian: long                |    28    60    60    83   -43   -56    66   -29    -8   120   -40    27
mixolydian: low                 |   107    -2    -6   -16    37   -42    -6   -13   -10  -116   -67    14
mixolydian: leapt to            |    85    43   -79    -6   -60   -86   134    95  -120   100   122    79
mixolydian: lowest              |    14    24   -28   -10   -56   -30    -8   -27    17   -23     4    86
mixolydian: to root             |    43  -642   134  -812   331   168 -1506   121  -913    24  -151   155
mixolydian: from root           |    43  -224     9   572   145   296  1157  -257  -290  -330   -66   394
mixolydian: strong              |     0     7    -4    -2    22   -50    -8    11   -52    39    27   -31
mixolydian: downbeat            |    -5    23    -6    17   -14   -28     3    -8    -9     8    -6    21
mixolydian: before rests        |    -4   -42    11    19     5   -12    -9    -4   -45   -22    12     3
mixolydian: after rests         |     6    23    24   -17   -20   -29   -51   -12    24   -23    18   -26
mixolydian: opens rounds        |    40    22     4     8    30    22   -14    54    -4   -17    48    -9
mixolydian: surely strong       |   -16   -39    43   -48   -11   -90    14   -14   -33   -87    29    -6
mixolydian: surely downbeat     |    13    16   -27    12   -23   -50    -3   -69    -4    -5   -45    53
mixolydian: surely opens rounds |    55     3    76     9    26    18   -12     0   -11    41   -53    24
aeolian: share                  |    32   -49    72     3   -77    35   -58    84     5   -30    16   -96
aeolian: root of share          |    40   -31   -39   -74   -48     3   -34    75    36    17   -43   -38
aeolian: present                |    16   -15   -74   -60   -21   -15   -14    30    56    37   -37     5
aeolian: long                   |    85    17   -23    66   -59   -77   -88    48   -43   -75    51   -75
aeolian: low                    |    96   -41    59     5   -45   -38   -45   -35   -95   -33    38     9
aeolian: leapt to               |   -63   -10  -109    64   -96   -97   -15   -64     5   -31  -199  -179
aeolian: lowest                 |   -27   -20   -15    44   -12   -28   -24   -19    16    -9    30    59
aeolian: to root                |    29  -861   135   -88  -824   -58  -635   324   140  -859     6   923
aeolian: from root              |    29  -311    65    71   -37   154   523    17   386   -39    12   -75
aeolian: strong                 |     5   -32    15    11   -67    -4   -32    56    17   -16    47   -58
aeolian: downbeat               |   -17   -21    22   -11   -36    -4   -15    38     7   -14    11   -15
aeolian: before rests           |     3   -23     2    17   -51    22   -44   -14     7   -42   -11   -40
aeolian: after rests            |   -22   -43    -4    16   -28   -36    43     1    21   -32    39  -105
aeolian: opens rounds           |   -19    -9    21   -16   -17   -17   -40   -30    32    10   -38   -62
aeolian: surely strong          |    44   -17    32    83   -74   -46   -34   153   -85    10    23    -8
aeolian: surely downbeat        |     3   -34    21    19   -43   -36    -5    77   -47   -26    20    12
aeolian: surely opens rounds    |   -39   -23   -71  -102   -17   -56    12   -51     4   -17   -55   -25
locrian: share                  |    25    11   -21   -13   -25    33    67   -22    21   -41   -28   -23
locrian: root of share          |    19   -13   -13   -24   -24    -6    58   -24    -4   -39   -37   -10
locrian: present                |     2   -15    -5   -20   -16   -21    26   -17   -12   -24   -25     0
locrian: long                   |  -142    40   -19  -111    -8   186  -139     2   -26   -68   107   -63
locrian: low                    |    86    26   -16   -46   -19   -50    13    -5   -63    -1    31   -14
locrian: leapt to               |     1   -75    -1  -105   -15   -62   323   -20   157   -70    73   -65
locrian: lowest                 |     4   -15    -3   -19    -3     0    56    -1    22     7   -39   -13
locrian: to root                |   112   116  -245    14  -323   249   360  -363   293  -223   -61  -232
locrian: from root              |   112  -238  -111   108  -172   123   489  -158    18   -41    85    52
locrian: strong                 |    24   -60     8    -6    -9    37    66   -33     6   -31   -20   -13
locrian: downbeat               |    -7   -23    12   -22    11    -1   -16    -7    16    -8    14     7
locrian: before rests           |    21    43   -10    34    -2    41   -36   -39   -11    -8    22   -17
locrian: after rests            |    79    23   -13    39   -13   -46    -3   -19   -19    -6    -7   -13
locrian: opens rounds           |    21   -34    -4    -6    16   -28   -11    -4   -28   -33     3   -13
locrian: surely strong          |     7    25    13   -15    -4    20    -3   -18    32   -22    13   -19
locrian: surely downbeat        |   -11    24    13   -61     4   -12   -33    -1    28     4     2    19
locrian: surely opens rounds    |     3    38   -15   -48   -13   -49   -13    -2   -19    -3    22     2
costs                           |   717   980   336
constant: ionian                |   269
constant: dorian                |   -34
constant: phrygian              |    72
constant: lydian                |    50
constant: mixolydian            |    99
constant: aeolian               |   188
constant: locrian               |   113
constant: harmonic minor        |    19
constant: locrian natural 6     |   -27
constant: ionian augmented      |   -42
constant: dorian #4             |  -206
constant: phrygian dominant     |    61
constant: lydian #2             |  -244
constant: ultralocrian          |     5
constant: melodic minor         |   -86
constant: dorian b2             |  -135
constant: lydian augmented      |   -92
constant: lydian dominant       |  -142
constant: mixolydian b6         |   -85
constant: locrian natural 2     |   -22
constant: altered               |     1
constant: major pentatonic      |    69
constant: minor pentatonic      |   126
constant: major blues           |   -21
constant: minor blues           |    42
constant: whole tone            |   -30
constant: whole-half octatonic  |   -36
constant: half-whole octatonic  |   -86
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
