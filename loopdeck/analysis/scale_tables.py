"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops; and of
``bar_lines``.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each
distance above the root, 0 to 11 semitones; the scores are divided by their temperature already.
"""

TUNES = """
share                           |    60   -16   -21    13    27   -71   -20    77   -29   -38   -70   -58
root of share                   |    29    -5    -3     2    12   -34    -5    35   -11    -8   -25   -24
present                         |     6    -1    -2    -4    -2     8     0     2    -2     5     3    -6
long                            |   197   -66  -157  -126   -61   -81   -45     3  -117  -109  -164  -170
low                             |    44   -11    34   -38   -28   -49    -9    30   -17   -29   -28   -23
leapt to                        |   206  -254  -205  -248  -245   -66    25   198  -115  -193  -104  -115
lowest                          |    12   -32   -22    -4     7   -14     6    12   -19   -20     9   -11
to root                         |   243    68    66   294   142  -263   912   317  -106   -12   -77   111
from root                       |   243    34    77   346   140  -213   700   402   -27  -131    -2   -55
strong                          |    51   -28   -27    14    24   -50   -21    46   -25   -39   -55   -53
downbeat                        |    37   -34   -39    21    25   -21   -18     7   -16   -20   -31   -32
highest                         |    24   -25    10     7     6   -14   -16   -11     1     4   -16   -11
last                            |    30   -22   -24   -24   -19   -21   -19   -16   -27   -24   -23   -25
last but one                    |    11     4    10   -13   -14   -23   -19   -18   -22    -4    11    17
first                           |    13   -27   -20     2    11   -25    -1    24   -14   -18   -14   -19
opening                         |    27   -20   -18     3    12   -24   -14    11   -13   -24   -18    -8
cadence                         |    25     6    13   -22   -12     2   -14   -11   -26    -9   -15    -5
half cadence                    |    12     7    18   -13   -12     4   -18    10   -27   -20     3     7
closing bar                     |    34   -10    -2   -28   -27   -28   -17   -29   -17   -23   -35   -28
opening bar                     |    58   -20   -43    15    40   -45    -9    40   -27   -53   -60   -40
last strong                     |    17   -13   -19   -15   -20    -8   -27   -15   -16   -12   -18    -6
part ends                       |    27   -23   -18   -23    -9   -26   -21   -21   -18   -24   -11   -13
strong time                     |    92   -61   -49    -7     3   -58   -65    48   -36   -75   -71  -119
strong to root                  |    52   102   145   130    77   -49   135   134    23     6    50    78
ionian: share                   |    27   -19    -3   -23    47   -64   -29    30   -12    -9   -39   -39
ionian: root of share           |    13    -6     7   -10    22    -9   -10    14     1    -2   -23     1
ionian: present                 |     4     2     4    -2     4    10     3     3     7     3   -13     8
ionian: long                    |   167   -32   -89   -50   100   -80    -7    67   -39   -16   -21   -61
ionian: low                     |    19   -12    34   -16    -6   -36   -20    21   -11    -9   -28   -26
ionian: leapt to                |     9   -63  -151   -73  -183  -110  -104    75   -76   -57   -22  -175
ionian: lowest                  |    11    -4    -9    -7    16   -24   -10    15    -1    -9     0   -15
ionian: to root                 |   139   -97   115  -120    84  -531  -656   132  -115    47  -336   168
ionian: from root               |   139  -117   132  -166   138  -157 -1265   183   -92   -26  -287    60
ionian: strong                  |    29   -17   -19   -22    38   -55   -24    25   -13   -12   -25   -47
ionian: downbeat                |    17   -10   -18   -14    23   -19   -14    16   -11   -22    -4   -37
ionian: highest                 |    14    -7     5    -7     2    -7   -14   -10    -6    13    -2    -2
ionian: last                    |    22    -7   -19    -7   -19    -7    -8   -18     0    -7   -13   -24
ionian: last but one            |    10    -5    -3    -9    -2    -9   -12   -15    -7    -5    -9    17
ionian: first                   |     7    -7   -29    -8    24   -22    -8    21    -6   -13   -10   -11
ionian: opening                 |    25    -8   -20   -10     6   -18    -6    15    -8   -23   -12   -17
ionian: cadence                 |    22    -4     0    -9     7    -3   -20    -2    -7    -8   -18     5
ionian: half cadence            |    -5    -6    18   -10     2     8   -12    12    -7   -23   -27    28
ionian: closing bar             |    26   -11   -22   -13   -17   -16   -14   -22     2   -11   -15   -22
ionian: opening bar             |    51   -18   -36   -16    44   -30   -14    -2   -14   -59   -18   -42
ionian: last strong             |    14    -7   -25    -8    -9     0   -10   -15     2    -3   -10    -7
ionian: part ends               |    19    -6   -28    -9     8    -7    -8   -12    -1   -11   -11   -12
ionian: strong time             |    63   -31   -55   -42    51  -132   -49    21   -31   -24   -24  -110
ionian: strong to root          |    63     5    66  -102    69   -12  -307    90  -111    74  -146    32
dorian: share                   |    21    -9     6    33   -14   -35    -9    48   -31    40   -63   -36
dorian: root of share           |    10    -5     6    10    -7   -18    -6    18   -28    43   -26   -34
dorian: present                 |     1    -3     3    -1    -2     1    -3     2   -21    14     2   -24
dorian: long                    |    84   -18    20   -36   -35   -59   -15    88   -41    70  -179   -28
dorian: low                     |    -2    -6    36    17    -6   -21    -3    39   -12   -20   -44   -18
dorian: leapt to                |    89   -26   -26  -185    -8   -42     1   180   -39   -25  -147   -33
dorian: lowest                  |    11    -2   -12    10     5   -24    -3     7    -4    -6     0   -10
dorian: to root                 |    42   -44   -18   280  -204  -365  -627   231  -223   103   144  -792
dorian: from root               |    42   -56   -14   370  -101   -73   -51   316  -287   175  -117  -632
dorian: strong                  |    26    -8    12    21    -8   -30    -8    21   -21    12   -54   -25
dorian: downbeat                |    22    -5   -13     5     1    -6    -4    12   -11   -11   -31   -10
dorian: highest                 |   -11    -2    11     8   -10    -9    -3    -2   -11    21   -10    -3
dorian: last                    |    20    -2   -20   -10    -3    -9    -4   -16    -4    -7   -18    -4
dorian: last but one            |    -1    -2     5     2    -6   -10    -5   -10    -5    -8    23   -21
dorian: first                   |    -1    -2     1     2    -5   -25    -1    20    -6    -8   -11    -2
dorian: opening                 |    16    -3    -4     7    -6   -22    -2     6    -5   -20    -8    -7
dorian: cadence                 |    16    -5     0    -1    -7    18    -4    -6   -17     6   -17   -21
dorian: half cadence            |    -1    -5    16    -1   -11    -8    -4    10    -8    -6     9   -18
dorian: closing bar             |    18    -4    17     3    -7   -14    -5   -20   -10   -25   -14   -18
dorian: opening bar             |    29    -6    -2    17   -14   -47     5    37   -16   -21   -41   -24
dorian: last strong             |    13    -2    -7   -13    -6    -8    -3    -8    -4    -3   -10    -9
dorian: part ends               |    21    -3    16   -10    -3   -31    -3   -23    -6    -6    -6    -5
dorian: strong time             |    23   -15    40   -18   -24   -62   -14    10   -32     8  -119   -35
dorian: strong to root          |    -6   -54   121   133   -59   -14  -103    92  -170    -6    50  -416
phrygian: share                 |    38    19    -9    12    -7   -30    -7    35    -9    -6   -52    -4
phrygian: root of share         |    13    15    -6     5    -5   -10    -5    14     0    -4   -16    -3
phrygian: present               |     1     7    -4     1    -4     1    -3     2     3    -3     1    -2
phrygian: long                  |   166   -17   -23  -119   -16   -16   -16   -20  -123    -8  -220   -10
phrygian: low                   |    18    14    -6   -15    -4   -27    -4    29    -1    -3   -16    -3
phrygian: leapt to              |   170  -138   -18  -123   -17  -173   -16    77   -59   -12  -185   -10
phrygian: lowest                |    13   -19    -2    -2    -2     4    -4     4   -26    -1   -10    -1
phrygian: to root               |   175   145   -65   136   -39   -26  -381   376   -34   -56   -81   -72
phrygian: from root             |   175   101    12    43   -83  -325  -111   309    67   -25   -12   -64
phrygian: strong                |    27   -13   -10    16    -6    -5    -6    27   -13    -5   -43    -4
phrygian: downbeat              |    12   -33    -6    15    -4    12    -4     0   -11    -3   -24    -3
phrygian: highest               |    17   -26    -5     1    -2   -28    -3   -10     4    -1   -23    -1
phrygian: last                  |    31   -25    -2   -31    -4   -22    -2    -1   -30    -1   -10     0
phrygian: last but one          |     7    14    -4    -5    -3   -20    -1   -11   -14    -2    -3    -2
phrygian: first                 |    15   -16    -2     0    -2   -27    -2    15    -7    -1   -11    -1
phrygian: opening               |     6   -17    -3     4    -2   -20    -2     8     3    -1   -19    -2
phrygian: cadence               |    12     8    -6   -27    -2    -2    -3   -12   -22   -10    -6    -4
phrygian: half cadence          |     5     7    -8     4    -3   -11    -3    13   -26    -6   -20    -4
phrygian: closing bar           |    38     5    -4   -31    -5   -28    -3   -23   -23    -2   -25    -2
phrygian: opening bar           |    15     1    -8     5    -4   -11    -4    22    -5    -3   -51    -3
phrygian: last strong           |    21   -21    -2    -2    -4    -4    -2   -13   -24    -1    -6    -1
phrygian: part ends             |    31   -33    -3    -4    -3   -16    -2    -4   -15    -1   -11    -1
phrygian: strong time           |    74   -61   -15    24   -11    15   -11    83     2    -8   -44    -8
phrygian: strong to root        |   -12   139    12    88   -51  -222    34   116    81   -21  -158  -123
lydian: share                   |    43     7    -3     7   -23   -11     2    15     5   -49     7   -28
lydian: root of share           |    10     3    -1     3    -8    -9    21     4     0   -15     3   -10
lydian: present                 |    -1    -1    -2     0    -1    -3    10    -2    -3    -1     0     0
lydian: long                    |    62    15  -181    17  -165   -17  -101  -162    15  -185    16  -227
lydian: low                     |    39     3   -19     5   -37    -5    -3    14     4   -18     5   -12
lydian: leapt to                |    77    22   -51    20  -176   -22    65   103    20  -237    23   -23
lydian: lowest                  |     2     1   -26     2    -8    -1    10     1     1   -17     1     4
lydian: to root                 |   203    33    84    19    16   -12  -380   236    35  -150    21     8
lydian: from root               |   203   132    78    29   -32   -53    25   321    27  -105    21   -18
lydian: strong                  |    35     6   -14     7   -13    -9    -6    13     6   -41     6   -17
lydian: downbeat                |    11     4   -44     5     7    -5    -4    13     4   -19     4    -9
lydian: highest                 |     6     2   -16     2     2   -10    -7     5     2    -6     2   -30
lydian: last                    |    26     2   -21     3   -24    -1     0     0     2   -18     2    -9
lydian: last but one            |     8     1   -12     2   -21     1   -13    -8     1     8     1   -11
lydian: first                   |     7     3   -14     2   -20     1   -21    18     2    -6     2   -22
lydian: opening                 |     5     3   -14     3    12    -1   -29     1     3   -34     2    -1
lydian: cadence                 |     4     1   -10     2    -8   -13     6     1     1     2     2   -18
lydian: half cadence            |    -1     2   -17     3    -6   -16     3     5     1     0     2   -13
lydian: closing bar             |    29     7    -3     3   -42     4     7   -14     2    -3     3   -29
lydian: opening bar             |    17     5     2     5    -1    -4   -41    19     4   -45     5   -13
lydian: last strong             |    15     2     2     3   -16     0    -3   -12     1   -11     2    -2
lydian: part ends               |    21     2     2     3   -27    -1   -14   -16     2   -13     3    -4
lydian: strong time             |    50    11   -20    14   -61   -17   -64   -11    12   -84    12   -49
lydian: strong to root          |    29   -10    52    26   -40    -1     2    19   -12   -41    10    28
mixolydian: share               |    41    -8   -52   -24    68   -47   -11    17    -5   -23   -31   -48
mixolydian: root of share       |    17    -6   -12   -15    33   -22    -9     9    -3    -8    16   -36
mixolydian: present             |     1    -4     2    -8     7     2    -7     1    -2     3    25   -21
mixolydian: long                |   128   -16   -68   -28    20   -59   -28   -93   -14   -73  -126   -69
mixolydian: low                 |    29    -5   -11   -13    21   -28    -7    18     0   -25   -17   -10
mixolydian: leapt to            |    83   -12  -237   -38     0   -39   -20    41     5   -96    -1   -19
mixolydian: lowest              |    15    -2   -16    -5     4    -3    -3     0    -1   -27    10    -6
mixolydian: to root             |   109    17    38  -172   303  -148  -142   128   -48   -16   212  -593
mixolydian: from root           |   109   -46    -4  -299   296  -101  -152   316   -42   -68   253  -618
mixolydian: strong              |    28    -7   -38   -23    57   -32    -9    12    -4    -3   -45   -37
mixolydian: downbeat            |    11    -5   -21   -17    36   -24    -5   -11    -3    25   -34   -16
mixolydian: highest             |     7    -2    -2    -5    23    -1    -2    -5    -2    -8   -15    -8
mixolydian: last                |    17    -2   -11    -3     4   -17    -2   -18    -2   -28     0    -5
mixolydian: last but one        |    11    -4     5    -4    -3   -22    -4   -13    -2   -10    12     0
mixolydian: first               |    19    -1   -13    -4     8    -7    -2    -2    -1   -23     0    -5
mixolydian: opening             |    19    -1   -10    -7    15   -12    -2   -20    -2     0   -16    -5
mixolydian: cadence             |    16    -4    10    -7   -13     1    -9    -3    -6   -31     6   -22
mixolydian: half cadence        |     2     6    12    -6    -1    -3   -11   -15    -3   -17    29   -36
mixolydian: closing bar         |    18    -4    -4   -14    22   -21    -4   -20     1   -25   -19    -7
mixolydian: opening bar         |    27    -5   -64   -18    48   -21    -3    16    -4    -9   -47   -16
mixolydian: last strong         |     9    -3    -9    -4    -2    -7    -3    -6    -2   -15     5    -3
mixolydian: part ends           |    15    -3    -9    -6     2   -17    -3    -5    -2   -31     6   -10
mixolydian: strong time         |    68   -12   -39   -41    79    12   -19     5    -4     6   -49   -53
mixolydian: strong to root      |    -2    45   107  -187   167  -114   -49    96   -43     4   -55  -316
aeolian: share                  |    38   -36    47    19   -31   -58   -26    57   -47   -45   -52     8
aeolian: root of share          |    19   -19    23    12   -14   -18   -11    25   -15   -10   -12    31
aeolian: present                |     6    -8     9     4    -4     5    -2     6    12    11     6    27
aeolian: long                   |   151   -74   -15   -20   -73  -113   -67    67  -124  -111    18   -46
aeolian: low                    |    41   -24    46   -55   -19   -47   -18     6   -30   -30    -1     1
aeolian: leapt to               |   104   -87  -147  -132   -79  -100   -83    93  -126  -131   -81   -69
aeolian: lowest                 |    -3   -10   -21   -10   -10     5    -9    19   -27   -22     9    -2
aeolian: to root                |   190  -324   154    23  -174  -637  -760   334  -287  -405  -308   694
aeolian: from root              |   190  -264   132   -27  -275  -429  -716   266  -153  -391   -49   535
aeolian: strong                 |    29   -30    28    25   -27   -51   -24    56   -39   -49   -30    -2
aeolian: downbeat               |     7   -18    -3    33   -17   -27   -15    27   -19   -34   -15    -8
aeolian: highest                |    16   -11    13     2   -10     6   -10    -6     3   -38   -13    -6
aeolian: last                   |    29   -11     0   -20    -9   -27    -9   -14   -25   -11   -29   -11
aeolian: last but one           |    23    -9    20   -18   -11   -29    -9   -23   -20   -13   -21    26
aeolian: first                  |     3    -9   -11     5    -9   -14    -9    23   -13   -13   -15   -10
aeolian: opening                |    18   -10   -20     2   -10   -19    -8    26   -28   -12   -20    -4
aeolian: cadence                |    17   -14    28   -12   -14    -9    -5     4   -15    14    -7    26
aeolian: half cadence           |    23   -16    20   -29   -12    19    -7    -4   -22     2    -6    16
aeolian: closing bar            |    32   -17    33   -18   -15   -36   -14   -26   -23   -21   -48     3
aeolian: opening bar            |    44   -21    11    16   -25   -52   -16    38   -43   -25   -51     3
aeolian: last strong            |    21    -9     8   -13   -11   -17   -10   -14   -14   -12   -31    -2
aeolian: part ends              |    32   -12    -9   -22   -16   -19   -11    -4   -15   -11   -21   -13
aeolian: strong time            |    85   -56    35    50   -50   -82   -50   122   -84  -107    31   -21
aeolian: strong to root         |     0  -276   145    -2  -128    22  -231   161   -35  -343    81   168
locrian: share                  |    47   -24     6     6     6   -38    54     0   -26     6   -43     4
locrian: root of share          |    13    -5     2     2     3   -11    17    -2    -6     2   -15     1
locrian: present                |    -1    -1     0    -1     1    -1     0    -3     0     0    -1     0
locrian: long                   |   191   -60    10   -29    13   -47   139     3   -43    13  -122     7
locrian: low                    |    34    -4     4   -13     4   -36    47     0   -31     4   -18     3
locrian: leapt to               |   157  -156    14  -176    11   -57   201    -6  -201    14  -198    11
locrian: lowest                 |    19   -19     1    -2     1    -4    16    -2   -15     1   -14     1
locrian: to root                |   232    41    20    73    20  -190   904   -55  -217    14    32   -73
locrian: from root              |   232   -46    15   140    39    36  1066   -77   -25    22   -25   -14
locrian: strong                 |    47   -31     5    12     5   -32    39     0   -15     6   -45     3
locrian: downbeat               |    22   -27     3    20     3   -16     9     1    -2     3   -38     2
locrian: highest                |    16    -8     1     6     2   -17     2     1    -3     1   -23     1
locrian: last                   |    33    -7     2   -19     1    -5    -7     1   -20     2   -22     1
locrian: last but one           |     3    -6     1    -7     2    -5    -2     1   -16     1    13     1
locrian: first                  |    11   -24     1     1     1    -9    25     0   -12     2   -15     0
locrian: opening                |    16   -15     1    10     1   -17    17     1   -21     2   -24     1
locrian: cadence                |    10     7     1   -24     2     5     3     1   -27     2    -3     1
locrian: half cadence           |     0    12     1   -15     2    11    -8     0   -17     3    -6     2
locrian: closing bar            |    42   -10     3   -23     3   -27    -6     1   -18     3   -14     2
locrian: opening bar            |    41   -30     4    16     4   -35    40     1   -28     4   -38     3
locrian: last strong            |    24     1     2   -10     2    -2   -15     1   -14     2   -23     2
locrian: part ends              |    31    -4     2   -11     2    -3    -7     1   -24     2   -14     2
locrian: strong time            |   122   -31     9     8    10   -48    76     2   -28    11   -80     5
locrian: strong to root         |    81    68    -1   100   -17     6   292   -22   -15     3   -71  -137
costs                           |   687  1058   191
constant: ionian                |   129
constant: dorian                |   113
constant: phrygian              |    83
constant: lydian                |    62
constant: mixolydian            |   101
constant: aeolian               |   116
constant: locrian               |    22
constant: harmonic minor        |   -16
constant: locrian natural 6     |   -38
constant: ionian augmented      |   -37
constant: dorian #4             |   -55
constant: phrygian dominant     |    14
constant: lydian #2             |   -54
constant: ultralocrian          |   -32
constant: melodic minor         |   -46
constant: dorian b2             |   -39
constant: lydian augmented      |   -38
constant: lydian dominant       |   -54
constant: mixolydian b6         |   -49
constant: locrian natural 2     |   -24
constant: altered               |   -28
constant: major pentatonic      |     8
constant: minor pentatonic      |    67
constant: major blues           |   -35
constant: minor blues           |    35
constant: whole tone            |    15
constant: whole-half octatonic  |    -5
constant: half-whole octatonic  |   -43
"""

LOOPS = """
share                           |   156   -82  -126   -24   -94  -201   -87   322    80   247  -150   -42
root of share                   |   285  -153   153   -87   183  -222  -101   417  -165  -145  -134   -31
present                         |  -123    26   -84    71     3    -1    47   -87    -6    86    13    55
long                            |  -172    30   -15     6   -39     6    97  -189    15    61   170    31
low                             |   488   -10   -45  -141  -360    49    16     1  -225    43   129    54
leapt to                        |   995    53  -225   -78  -317  -323    69   176   155  -264    54  -295
lowest                          |   120    21    -9  -118    35  -241  -256   -76   149   159   107   110
to root                         |   181   -52  -214    78   418  -139   -67    15   365   150  -170    49
from root                       |   181     0    36   -11   -62   -84    37   247    14  -130    27   134
strong                          |   -42   -98    39    55    70   -92   184   -16    54   -80   -50   -24
downbeat                        |   160    70    13     1   -35    -1   -75   -45   -69   -28    -4    13
ionian: share                   |   -12   -12    -4   -24    95    -9    -9    48    -7    -5   -13   -43
ionian: root of share           |    13   -46     5   -88   134     7   -18    81   -15   -52   -43  -155
ionian: strong                  |  -122   -14     9   -21   122   -15   -10   117    -5     8   -13   -52
dorian: share                   |    15    11    -5     8     9   -18    -4   -27    -1    21    -8     1
dorian: root of share           |     8    34   -62    35    35   -58   -18   -25    -5    47   -10    -4
dorian: strong                  |    30    18   -16   -37    12   -23     4   -30     0    30     8     6
phrygian: share                 |   -19    24    17   -17     5     6     4    14   -32     2   -21    19
phrygian: root of share         |   -20    66    46   -18     6    23    23    13   -24     8   -25    53
phrygian: strong                |     0    18    26   -35     1     7    14   -11   -30     8    -9    14
lydian: share                   |    -9     4     2     1    -5     4     0   -26     5    -5     6    21
lydian: root of share           |    -4    17     0     1     8    16    17   -39    16    -2    15    35
lydian: strong                  |    21    -1    -5    -1    -8     2     8   -26     1   -27     0    32
mixolydian: share               |    27    23     4    -2     0   -61    -7   -19     9    10     6    12
mixolydian: root of share       |    11    71   -16    -8    20  -111   -29   -36    33     6    14    36
mixolydian: strong              |    40    31    14    -3     1   -48   -10   -40     9    -8    -1    18
aeolian: share                  |    25   -12     9     9   -11     1   -10    28   -52    11    15    -7
aeolian: root of share          |    35   -43   -34     3   -43   -21   -36    50  -115    64    22    15
aeolian: strong                 |   -37    -4    -5    35   -12    -1    -9    58   -43     4    15     5
locrian: share                  |    14   -19    -3   -13    -1     8    15    -3     5    -2     8    -7
locrian: root of share          |    15   -53   -10   -15    -5    19    30   -12    13    -7    16   -21
locrian: strong                 |    -4   -14    -3   -15     0    27    16    -2    13    -4    -2    -8
costs                           |  1032  1273   206
constant: ionian                |   174
constant: dorian                |   151
constant: phrygian              |   174
constant: lydian                |  -144
constant: mixolydian            |   142
constant: aeolian               |   274
constant: locrian               |   135
constant: harmonic minor        |    53
constant: locrian natural 6     |   -58
constant: ionian augmented      |  -101
constant: dorian #4             |  -256
constant: phrygian dominant     |   126
constant: lydian #2             |  -447
constant: ultralocrian          |  -166
constant: melodic minor         |   -62
constant: dorian b2             |  -108
constant: lydian augmented      |  -161
constant: lydian dominant       |  -212
constant: mixolydian b6         |   -35
constant: locrian natural 2     |   -13
constant: altered               |   -71
constant: major pentatonic      |   237
constant: minor pentatonic      |   460
constant: major blues           |    45
constant: minor blues           |   267
constant: whole tone            |    71
constant: whole-half octatonic  |  -140
constant: half-whole octatonic  |  -329
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
