"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops; and of
``bar_lines``.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each
distance above the root, 0 to 11 semitones; the scores are divided by their temperature already.
"""

TUNES = """
share                           |    59   -18   -24     0    21   -69   -23    76   -28   -35   -56   -46
root of share                   |    29    -4    -5    -3    10   -33    -5    35   -10    -9   -19   -16
present                         |     9    -1    -2    -3    -1     6     0     4    -1     5    -1    -3
long                            |   206  -110  -166  -110   -54   -82   -44    19  -124  -125  -146  -146
low                             |    43    -6    31   -35   -28   -45   -19    28   -21   -23   -24   -14
leapt to                        |   214  -279  -198  -235  -253   -65    37   201  -127  -206   -78  -123
lowest                          |    10   -37   -21    -4    10   -13     5    13   -21   -19    12   -15
to root                         |   251    88    63   257   103  -240   960   315  -118    28  -174   121
from root                       |   251    35    82   306   111  -152   659   398   -76  -122   -35   -45
strong                          |    52   -29   -30     3    18   -51   -21    48   -27   -36   -48   -47
downbeat                        |    42   -33   -40    18    19   -28   -12     9   -27   -17   -29   -36
highest                         |    23    -9     6     6     4   -16   -20    -7    -2     5   -18    -6
last                            |    32   -26   -26   -22   -20   -19   -26   -18   -34   -18   -23   -29
last but one                    |     7     4     9   -11   -13   -21   -22   -17   -21    -2    12    19
first                           |    14   -27   -20     3    10   -25     5    23   -19   -17   -13   -24
opening                         |    29   -19   -23     5     9   -26    -7    12   -14   -19   -20    -8
cadence                         |    25    10    12   -21    -8    -3    -9   -11   -27    -9   -12    -7
half cadence                    |    11     6    19    -7   -15     4   -12     4   -31   -18     0     9
closing bar                     |    35   -10    -4   -27   -27   -25   -29   -32   -23   -16   -32   -24
opening bar                     |    59   -18   -45     3    39   -42    -8    44   -32   -57   -57   -42
last strong                     |    19   -15   -22   -17   -20    -7   -22   -18   -14   -13   -20    -8
part ends                       |    27   -19   -19   -24    -6   -26   -23   -25   -19   -22   -10   -16
strong time                     |    95   -59   -49   -16    -9   -56   -71    47   -36   -83   -58  -117
strong to root                  |    59   137   164   116    70    -4    42   106   -41    46    97    19
ionian: share                   |    23   -20    -2   -24    46   -55   -29    26   -14     2   -33   -18
ionian: root of share           |    11    -7     7   -10    22     2   -11    13     0     7   -18    10
ionian: present                 |     4     1     5    -2     5    13     2     4     6     5   -10     8
ionian: long                    |   169   -37   -72   -53   104  -111   -14    63   -43    10   -23   -30
ionian: low                     |    17   -13    34   -16    -6   -33   -20    16   -12    -3   -24   -14
ionian: leapt to                |     3   -68  -150   -78  -155  -138  -105    90   -81   -10   -26  -168
ionian: lowest                  |     9    -4    -5    -8    16   -28   -10    17    -1   -10    -1   -17
ionian: to root                 |   116  -103    90  -124    76  -634  -578   111  -124   -38  -265   179
ionian: from root               |   116  -118    86  -166   157  -281 -1036   190   -97   -86  -231    75
ionian: strong                  |    24   -19    -9   -23    36   -53   -25    26   -14    -3   -22   -33
ionian: downbeat                |    13   -12   -15   -16    22   -19   -15    23   -11   -16    -4   -35
ionian: highest                 |    13    -8     2    -8     4    -6   -16   -13    -7    12    -2     1
ionian: last                    |    21    -8   -19    -8   -21    -6    -9   -16    -1    -6   -14   -27
ionian: last but one            |     8    -5    -3    -9    -1    -5   -12   -12    -8    -5    -5    18
ionian: first                   |     7    -7   -27    -8    27   -25    -9    20    -7   -11   -10   -14
ionian: opening                 |    25    -8   -19   -11     8   -22    -8    16    -8   -21   -13   -18
ionian: cadence                 |    23    -5    -2    -9     9    -1   -20    -2    -9    -6   -16     0
ionian: half cadence            |    -6    -8    19   -11     6    10   -11     9    -8   -22   -24    34
ionian: closing bar             |    24   -12   -16   -13   -18   -12   -15   -16     1   -11   -12   -22
ionian: opening bar             |    52   -19   -31   -17    48   -36   -16    -2   -15   -60   -17   -34
ionian: last strong             |    13    -7   -23    -9   -13     0   -11   -14     2    -3    -9    -7
ionian: part ends               |    17    -7   -25    -9     7    -7    -8   -11    -1   -10   -10    -8
ionian: strong time             |    57   -35   -38   -45    34  -136   -48    17   -32   -13   -23   -93
ionian: strong to root          |    64   -27    68  -107    67   -42  -328    83  -117    29  -127    47
dorian: share                   |    21    -9    10    30   -10   -32    -9    52   -27    36   -52   -34
dorian: root of share           |    11    -5     7     5    -4   -19    -6    20   -25    30   -23   -32
dorian: present                 |     2    -3     3    -4     0    -4    -4     2   -19     7    -3   -23
dorian: long                    |   103   -19    29   -43   -33   -39   -15    99   -39    16  -178   -27
dorian: low                     |    -5    -6    31    13    -4   -14    -3    35   -11   -10   -34   -17
dorian: leapt to                |    79   -27    25  -131    -2    -7     3   163   -37   -27   -98   -32
dorian: lowest                  |     6    -2   -16    11     7   -20    -3     4    -4    -5     2    -9
dorian: to root                 |    19   -46   -18   261  -133  -344  -526   211  -197   139   117  -745
dorian: from root               |    19   -55     2   327    -8   -41     5   270  -231   246  -195  -546
dorian: strong                  |    34    -8    10    24    -4   -29    -8    24   -19     7   -50   -25
dorian: downbeat                |    32    -5   -16    11     6    -9    -4     9   -10   -16   -29   -10
dorian: highest                 |   -10    -2     9     6    -8   -13    -3     3    -9    17    -9    -3
dorian: last                    |    19    -2   -16    -7    -3    -7    -4   -22    -4    -5   -15    -4
dorian: last but one            |    -4    -3     6     0    -6    -5    -6   -11    -5    -5    20   -19
dorian: first                   |     1    -2     4     4    -4   -24    -1    19    -6   -15    -8    -2
dorian: opening                 |    19    -3    -8     9    -6   -19    -2     4    -5   -22   -10    -6
dorian: cadence                 |    15    -4     5    -2    -6    12    -4   -12   -16    10   -18   -19
dorian: half cadence            |    -6    -5    23     2   -10   -18    -5    10    -6    -3     1   -15
dorian: closing bar             |    17    -4    14     1    -6   -12    -6   -18    -9   -10   -11   -17
dorian: opening bar             |    23    -6     3    12   -12   -43     6    41   -14   -10   -38   -23
dorian: last strong             |    16    -2   -13   -13    -6    -8    -3    -6    -4    -4   -10    -9
dorian: part ends               |    24    -3    15   -10    -3   -31    -3   -24    -6   -12    -6    -4
dorian: strong time             |    43   -15    46   -28   -18   -52   -15    27   -29   -12  -121   -34
dorian: strong to root          |   -18   -58   178   158   -19    25  -104    83  -139    53    59  -395
phrygian: share                 |    46    29   -12    16   -10   -36   -10    58    -4    -9   -57    -7
phrygian: root of share         |    18    23    -8     7    -8   -16    -7    26     3    -7   -17    -5
phrygian: present               |     1    10    -6     1    -6    -1    -5     3     5    -5    -1    -3
phrygian: long                  |   133   -66   -29  -138   -23   -23   -23    -7  -107   -12  -211   -14
phrygian: low                   |    22    20    -8   -10    -6   -37    -6    43    -7    -4   -20    -5
phrygian: leapt to              |   158  -210   -23  -198   -26  -198   -24    91   -65   -20  -210   -18
phrygian: lowest                |    18   -24    -3    -5    -2     7    -5     3   -36    -2    -9    -2
phrygian: to root               |   179   165   -79   136   -56   -98  -448   406  -106   -82   -35  -136
phrygian: from root             |   179   113    -3    31  -118  -414  -175   384    33   -38   -16  -112
phrygian: strong                |    33     4   -12    15    -9   -11    -9    48    -7    -7   -55    -7
phrygian: downbeat              |    18   -19    -8    15    -6     3    -6    15    -7    -4   -37    -5
phrygian: highest               |     9    -8    -6     5    -3   -29    -4    -2     5    -2   -32    -2
phrygian: last                  |    29   -27    -2   -30    -6   -20    -2    -7   -28    -2   -10     0
phrygian: last but one          |     4    12    -6     3    -4   -23    -2   -13   -16    -2     5    -3
phrygian: first                 |    10   -27    -3     2    -3   -21    -3    24   -11    -2   -14    -2
phrygian: opening               |    13   -19    -3     4    -3   -30    -3    16    -1    -2   -27    -3
phrygian: cadence               |    15    10    -8   -27    -3    -2    -5     1   -30   -14    -2    -6
phrygian: half cadence          |     9     6   -10     6    -4     6    -5    14   -34    -8   -20    -6
phrygian: closing bar           |    34     6    -4   -37    -9   -34    -4   -28   -22    -3   -18    -3
phrygian: opening bar           |    32     8   -10     9    -6   -17    -5    34   -13    -4   -59    -6
phrygian: last strong           |    21   -13    -3   -11    -6    -4    -2   -17   -17    -2   -11    -1
phrygian: part ends             |    27   -16    -4    -8    -4   -13    -3   -15   -10    -2   -11    -2
phrygian: strong time           |    87    -8   -19    24   -16     6   -16   110    20   -11   -42   -12
phrygian: strong to root        |    -5   174     0   128   -78  -218    -1    77    64   -35  -171  -177
lydian: share                   |    55     8    -9     8     2   -22     9    17     5   -53     8   -48
lydian: root of share           |    17     2    -3     3     0   -18    29     5    -1   -16     3   -21
lydian: present                 |    -1    -2    -1     0    -1    -9    12    -2    -5    -1     0    -3
lydian: long                    |   104    15  -172    20  -140   -31   -10  -138    18  -181    19  -212
lydian: low                     |    40     4   -17     6   -33   -10    -8    20     4   -25     6   -18
lydian: leapt to                |    69    26   -59    23  -197   -44    41    32    24  -250    27   -42
lydian: lowest                  |     9     1   -28     3   -14    -2     4     7     1   -21     1    -5
lydian: to root                 |   168    39   100    18   156   -31  -521   287    43   -79    22     8
lydian: from root               |   168   123   149    26   195  -108  -296   192    28    13    22   -44
lydian: strong                  |    37     7   -19     8     7   -18     4    19     6   -41     7   -32
lydian: downbeat                |    10     6   -51     6    13   -11     5    18     5   -11     4   -18
lydian: highest                 |     4     3   -19     3     1   -16     6     5     2    -2     2   -22
lydian: last                    |    25     2   -31     3   -24    -1    -8    -1     3   -16     3   -13
lydian: last but one            |    10     2   -11     2   -19     1   -16   -12     0     7     1   -10
lydian: first                   |    11     3   -19     2   -29     0   -12    17     3    -2     3   -23
lydian: opening                 |     5     3   -23     3    13    -2   -20     3     3   -19     3     0
lydian: cadence                 |    -1     0   -15     3     5   -21    26     2     1    -2     2   -20
lydian: half cadence            |    -5     3   -24     3   -11   -25    15    11     1     3     3   -17
lydian: closing bar             |    32     8   -12     4   -38     3   -13   -17     2    -1     4   -28
lydian: opening bar             |    31     5    -3     5    10    -7   -31    15     5   -47     6   -23
lydian: last strong             |    17     3    -5     3   -11     0    -6   -13     1   -10     3    -7
lydian: part ends               |    25     3    -4     3   -13    -3   -14   -17     2   -13     4   -12
lydian: strong time             |    61    13   -25    17   -27   -31   -20     8    13   -84    14   -67
lydian: strong to root          |    19   -19    74    26     9   -39  -167    32   -32    32     9   -27
mixolydian: share               |    47    -3   -34   -16    64   -43    -5    23     0    -2   -31   -41
mixolydian: root of share       |    19    -3    -6   -11    32   -19    -6     9     0     0     3   -32
mixolydian: present             |     0    -4     1    -7     5    -3    -6     1    -1    -2    15   -18
mixolydian: long                |   124    -4   -52   -13   -15   -58   -16   -72    -2   -72   -87   -54
mixolydian: low                 |    33    -1    -4    -9    13   -28    -5    13     4   -15   -18    -5
mixolydian: leapt to            |    63     4  -255   -24   -53   -52    -7    58    21  -124   -29     0
mixolydian: lowest              |     7    -1   -20    -3     8    -2    -2    -1     1   -18     8    -1
mixolydian: to root             |   139    41    70  -118   272   -74   -98   122   -22   116   147  -530
mixolydian: from root           |   139   -27     9  -228   230   -10  -117   317   -17   -63   221  -530
mixolydian: strong              |    34    -2   -25   -17    55   -27    -4    16     0    11   -44   -31
mixolydian: downbeat            |    13    -2    -8   -12    34   -24    -2    -9     0    31   -40   -13
mixolydian: highest             |     8    -1    -7    -2    16    -2    -1     0    -1    -7   -13    -6
mixolydian: last                |    19     0   -12    -1     3   -18    -1   -19    -1   -21    -4    -4
mixolydian: last but one        |     8    -3     7    -3    -5   -24    -3    -3    -1   -10     7     4
mixolydian: first               |    14     1   -12    -3     4    -3     0    -7     0   -26     8    -3
mixolydian: opening             |    18     0    -9    -2    11    -6     0   -18     0     2   -15    -3
mixolydian: cadence             |    17    -2    15    -5   -18    -3    -7     4    -4   -35     5   -21
mixolydian: half cadence        |     6    11     2    -4   -10    -3    -8   -15    -1   -15    25   -32
mixolydian: closing bar         |    19    -3    -7   -11    18   -19    -2   -21     3   -11   -26    -3
mixolydian: opening bar         |    30    -3   -53   -12    51   -18     0    19    -1    -7   -48   -13
mixolydian: last strong         |    14    -1    -8    -2    -1    -7    -1    -6     0   -19   -10    -1
mixolydian: part ends           |    16    -1    -7    -3     6   -17    -1    -6     0   -25     1    -7
mixolydian: strong time         |    79    -3     3   -27    83    25   -10     3     5    16   -37   -44
mixolydian: strong to root      |     0    70    80  -156   219  -128    -4    67   -28     4   -25  -259
aeolian: share                  |    38   -36    47     2   -32   -51   -27    47   -51   -37   -23    10
aeolian: root of share          |    19   -19    24     9   -15    -9   -11    22   -19     0    -1    38
aeolian: present                |     6    -8    10     7    -4     5    -2     6     8    16     5    26
aeolian: long                   |   147   -73     7    -1   -75  -102   -68    95  -110  -103    53   -47
aeolian: low                    |    38   -24    42   -51   -20   -33   -18     4   -31   -27     0     2
aeolian: leapt to               |    98   -89  -160   -71   -81   -71   -86    77  -152  -122   -37   -67
aeolian: lowest                 |    -1   -10   -13   -10   -10     4    -9    19   -26   -23    11    -1
aeolian: to root                |   195  -301   154    44  -183  -704  -724   299  -268  -375  -381   663
aeolian: from root              |   195  -258   144   -53  -312  -430  -675   215  -163  -322   -51   499
aeolian: strong                 |    30   -31    30    16   -29   -53   -25    54   -48   -43   -11    -1
aeolian: downbeat               |    12   -19     3    38   -18   -32   -15    27   -36   -30    -5    -8
aeolian: highest                |    20   -12    10     0   -11     5   -10    -6    -8   -33    -9    -5
aeolian: last                   |    31   -11     0   -20    -9   -24    -9   -19   -34   -12   -28   -11
aeolian: last but one           |    24    -9    21   -16   -11   -31    -9   -26   -19   -13   -29    26
aeolian: first                  |     3    -9   -14     4   -10   -18    -9    24   -15   -12   -13   -10
aeolian: opening                |    19   -10   -23     4   -11   -22    -8    23   -25   -12   -19    -5
aeolian: cadence                |    21   -15    25   -12   -14    -9    -6    -1   -15    13    -4    26
aeolian: half cadence           |    25   -16    20   -24   -13    15    -7   -14   -26     2    -6    13
aeolian: closing bar            |    36   -17    35   -16   -16   -35   -14   -34   -36   -21   -48     6
aeolian: opening bar            |    41   -22     5    11   -26   -36   -17    31   -40   -23   -42     4
aeolian: last strong            |    21   -10    10   -12   -12   -15   -10   -19   -15   -13   -28    -2
aeolian: part ends              |    33   -12   -18   -21   -17   -16   -11    -4   -26   -12   -11   -14
aeolian: strong time            |    75   -57    21    52   -51   -73   -51   123   -99   -95    48   -19
aeolian: strong to root         |     2  -267   151    -8  -139    68  -226   149  -159  -281    51   119
locrian: share                  |    57   -17     0    12     1   -42    87    -9   -22     1   -58    -3
locrian: root of share          |    21    -1    -1     3     0   -15    31    -9    -2    -1   -21    -3
locrian: present                |     0     1    -2    -1    -1    -1     3    -7     5    -1    -1    -3
locrian: long                   |   132   -99    -3   -46     4   -27    72   -13   -96     4  -159    -7
locrian: low                    |    40     3     1   -16     1   -33    48    -6   -29     1   -29    -1
locrian: leapt to               |   117  -136     2  -247    -2   -86   221   -29  -191     0  -240    -5
locrian: lowest                 |    15   -23     0     7     0    -8    18    -5    -9     0    -4    -1
locrian: to root                |   212   167     7   103    -4  -349   954  -108   -33   -11    46  -131
locrian: from root              |   212     8    -3   179    18    54  1041  -142   -14     3    47   -45
locrian: strong                 |    45   -23     1    17     1   -30    69    -7   -19     1   -42    -3
locrian: downbeat               |    16   -23     1    27     1   -14    37    -3   -15     1   -22    -2
locrian: highest                |    18     4     0     5     0   -15     4    -1     1     0   -28    -1
locrian: last                   |    35    -8     0   -25     0   -13    -9     0   -26     0   -24     0
locrian: last but one           |     6     1     0   -12     0    -4    -8    -1   -11     0    11     0
locrian: first                  |    12    -9     0     5     0   -18    24    -2   -18     1   -19    -1
locrian: opening                |    16    -6     0    13     0   -23    22    -1   -25     1   -11     0
locrian: cadence                |    10    22     0   -16     0     3    -5    -1    -8     0    -9     0
locrian: half cadence           |     7    16    -1    -5     0     5    -2    -2   -11     1    -2     0
locrian: closing bar            |    40    -7     0   -29     0   -14    -5    -3   -18     0   -19     0
locrian: opening bar            |    39   -21     1    21     1   -35    53    -4   -22     1   -37    -1
locrian: last strong            |    23    -5     0   -10     1    -9    -4    -1   -18     0   -17     0
locrian: part ends              |    33    -7     1   -14     1    -9    -7    -1   -20     1    -8     1
locrian: strong time            |    98   -29     1    28     3   -38   102   -11   -36     3   -70    -6
locrian: strong to root         |    64   126   -25    61   -34    26   296   -49    12   -16   -18  -182
costs                           |   686  1055   190
constant: ionian                |   113
constant: dorian                |   109
constant: phrygian              |    89
constant: lydian                |    61
constant: mixolydian            |    68
constant: aeolian               |   108
constant: locrian               |    29
constant: harmonic minor        |   -17
constant: locrian natural 6     |   -45
constant: ionian augmented      |   -40
constant: dorian #4             |   -60
constant: phrygian dominant     |    12
constant: lydian #2             |   -59
constant: ultralocrian          |   -33
constant: melodic minor         |   -51
constant: dorian b2             |   -44
constant: lydian augmented      |   -42
constant: lydian dominant       |   -59
constant: mixolydian b6         |   -53
constant: locrian natural 2     |   -23
constant: altered               |   -30
constant: major pentatonic      |    -3
constant: minor pentatonic      |    68
constant: major blues           |   -40
constant: minor blues           |    38
constant: whole tone            |    16
constant: whole-half octatonic  |    -4
constant: half-whole octatonic  |   -45
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

BAR_LINES = """
on bar lines                    |    -6
long there                      |   636
long before                     |   -80
leaps there                     |    64
on groups                       |   138
long on groups                  |   631
low there                       |   -14
on counts                       |   207
ends on one                     |  -245
ends on a group                 |    72
ends with a bar                 |    74
closes long                     |   616
whole parts                     |   -82
whole halves                    |    97
none                            |   -98
an eighth                       |    34
a sixteenth                     |  -183
a quarter                       |    -5
three eighths                   |   -95
a half                          |  -484
more than half a bar            |  -262
off the counts                  |    10
pickup's length                 |  -307
none, whole bars                |   -49
some, whole bars                |    16
none, first long                |    96
"""
