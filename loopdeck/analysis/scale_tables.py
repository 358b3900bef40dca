"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops; and of
``bar_lines``.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each
distance above the root, 0 to 11 semitones; the scores are divided by their temperature already.
"""

TUNES = """
share                           |    60   -17   -22    13    27   -72   -20    78   -29   -38   -69   -57
root of share                   |    29    -5    -4     2    12   -35    -5    35   -11    -8   -25   -24
present                         |     6    -1    -2    -4    -2     8     0     2    -2     5     3    -6
long                            |   198   -70  -157  -125   -60   -81   -46     2  -118  -111  -163  -170
low                             |    44   -12    33   -38   -28   -49    -9    31   -17   -29   -27   -22
leapt to                        |   207  -257  -206  -249  -246   -65    27   198  -115  -191  -105  -118
lowest                          |    12   -32   -22    -3     8   -14     6    12   -20   -20     9   -11
to root                         |   244    67    62   296   140  -272   918   319  -109   -18   -74   118
from root                       |   244    33    73   347   139  -209   712   406   -30  -136     1   -52
strong                          |    52   -27   -27    14    24   -52   -21    50   -25   -38   -57   -54
downbeat                        |    38   -32   -40    22    24   -24   -19    10   -17   -19   -34   -35
highest                         |    24   -25    11     7     6   -14   -17   -10     1     4   -17   -11
last                            |    30   -23   -24   -24   -20   -21   -19   -16   -27   -24   -23   -25
last but one                    |    11     4    11   -12   -14   -23   -19   -18   -21    -4    11    17
first                           |    13   -28   -20     2    11   -25    -1    24   -14   -19   -15   -19
opening                         |    28   -20   -19     3    13   -25   -14    12   -12   -24   -19    -9
cadence                         |    25     5    14   -21   -10     3   -16   -14   -28   -10   -15    -5
half cadence                    |    12     6    19   -15   -10     5   -19     7   -27   -20     3     6
closing bar                     |    34   -10    -3   -28   -28   -29   -19   -30   -17   -23   -34   -26
opening bar                     |    59   -20   -43    15    40   -45    -9    41   -27   -55   -61   -41
last strong                     |    18   -12   -20   -15   -21    -9   -26   -16   -16   -12   -19    -7
part ends                       |    27   -23   -20   -22    -8   -27   -20   -23   -18   -23   -12   -14
strong time                     |    94   -60   -51    -6     3   -59   -66    50   -35   -74   -71  -123
strong to root                  |    53   112   158   130    74   -47   130   139    26    12    44    71
ionian: share                   |    27   -19    -3   -23    47   -65   -29    30   -12    -9   -39   -38
ionian: root of share           |    13    -6     7   -10    22    -9   -10    14     1    -1   -23     1
ionian: present                 |     4     1     4    -2     4    10     3     3     7     3   -13     8
ionian: long                    |   167   -32   -89   -50   102   -80    -6    66   -38   -17   -20   -60
ionian: low                     |    19   -12    34   -16    -7   -36   -20    21   -11    -8   -28   -25
ionian: leapt to                |     9   -63  -150   -73  -182  -112  -104    76   -76   -54   -21  -178
ionian: lowest                  |    11    -4    -9    -7    17   -25   -10    15    -1    -9     0   -15
ionian: to root                 |   138   -97   113  -121    82  -537  -661   133  -115    44  -339   173
ionian: from root               |   138  -116   131  -166   138  -161 -1277   185   -92   -30  -289    62
ionian: strong                  |    29   -17   -19   -22    38   -58   -24    27   -13   -12   -25   -49
ionian: downbeat                |    18   -11   -18   -15    23   -23   -14    20   -10   -21    -4   -41
ionian: highest                 |    14    -7     5    -7     2    -6   -14   -10    -6    13    -2    -2
ionian: last                    |    22    -7   -19    -7   -20    -7    -8   -18     0    -7   -13   -24
ionian: last but one            |     9    -4    -3    -9    -2    -8   -12   -15    -7    -5   -10    17
ionian: first                   |     7    -7   -29    -7    24   -23    -8    21    -6   -13    -9   -11
ionian: opening                 |    27    -8   -22   -10     6   -19    -7    15    -8   -22   -13   -18
ionian: cadence                 |    22    -4    -2    -9    10    -3   -20    -3    -8    -8   -19     5
ionian: half cadence            |    -4    -7    19   -10     3     9   -13    11    -7   -23   -27    29
ionian: closing bar             |    26   -12   -23   -13   -17   -16   -15   -22     2   -11   -15   -20
ionian: opening bar             |    52   -18   -36   -16    44   -30   -14    -1   -14   -61   -18   -43
ionian: last strong             |    14    -7   -26    -9   -11    -1   -11   -16     2    -4   -10    -7
ionian: part ends               |    19    -6   -29    -9     9    -8    -7   -13    -1   -10   -12   -13
ionian: strong time             |    64   -32   -59   -43    51  -139   -50    21   -30   -25   -24  -113
ionian: strong to root          |    62   -11    79  -104    73   -13  -370    91  -117    79  -155    25
dorian: share                   |    21    -9     6    32   -14   -35    -9    48   -31    41   -63   -36
dorian: root of share           |    10    -5     6    10    -7   -19    -6    18   -28    44   -25   -34
dorian: present                 |     1    -3     3    -2    -2     1    -3     2   -21    14     2   -24
dorian: long                    |    87   -18    20   -35   -35   -59   -15    90   -41    70  -179   -28
dorian: low                     |    -2    -6    36    17    -6   -21    -3    39   -12   -20   -43   -19
dorian: leapt to                |    88   -26   -26  -186    -8   -42     1   181   -39   -24  -150   -33
dorian: lowest                  |    11    -2   -12    10     6   -25    -3     7    -4    -6     0   -10
dorian: to root                 |    43   -44   -19   280  -205  -373  -627   233  -224   100   149  -797
dorian: from root               |    43   -55   -13   371  -100   -73   -49   320  -288   173  -116  -635
dorian: strong                  |    26    -8    11    22    -9   -29    -8    24   -22    16   -57   -26
dorian: downbeat                |    22    -6   -16     7     1    -6    -4    14   -11    -5   -35   -10
dorian: highest                 |   -11    -2    11     8   -10    -9    -3    -2   -11    21   -11    -3
dorian: last                    |    20    -2   -20   -10    -3    -9    -4   -15    -4    -7   -18    -4
dorian: last but one            |    -1    -2     5     2    -6    -9    -5   -10    -5    -8    23   -21
dorian: first                   |    -1    -2     2     2    -5   -26    -1    21    -7    -9   -11    -2
dorian: opening                 |    17    -3    -6     7    -6   -21    -2     7    -5   -20    -9    -6
dorian: cadence                 |    18    -5     1     0    -7    19    -4    -8   -17     6   -18   -22
dorian: half cadence            |     1    -5    18    -2   -11    -8    -4     9    -8    -8    10   -18
dorian: closing bar             |    18    -4    16     3    -8   -15    -5   -20   -10   -24   -13   -18
dorian: opening bar             |    29    -6    -2    16   -14   -47     5    37   -16   -21   -42   -24
dorian: last strong             |    14    -2    -8   -13    -6    -8    -3    -9    -4    -5   -11   -10
dorian: part ends               |    22    -3    16    -6    -4   -31    -3   -25    -6    -7    -8    -5
dorian: strong time             |    22   -15    42   -20   -25   -62   -15    13   -33    12  -123   -35
dorian: strong to root          |   -11   -57   122   131   -85    -7  -100    96  -173     1    42  -436
phrygian: share                 |    38    18    -9    11    -7   -31    -7    36    -9    -6   -52    -4
phrygian: root of share         |    13    15    -5     5    -5   -10    -5    14     0    -4   -16    -3
phrygian: present               |     1     7    -4     1    -4     1    -3     2     3    -3     1    -2
phrygian: long                  |   167   -20   -23  -119   -16   -16   -16   -21  -123    -8  -221   -10
phrygian: low                   |    18    13    -6   -15    -4   -27    -4    30    -1    -3   -16    -3
phrygian: leapt to              |   170  -140   -18  -122   -17  -175   -16    81   -58   -12  -187   -10
phrygian: lowest                |    13   -20    -2    -2    -2     4    -4     4   -27    -1   -10    -1
phrygian: to root               |   177   144   -65   134   -39   -27  -383   378   -33   -56   -80   -76
phrygian: from root             |   177    99    14    40   -84  -326  -111   313    68   -25   -13   -67
phrygian: strong                |    27   -11    -9    15    -6    -6    -6    28   -13    -4   -45    -4
phrygian: downbeat              |    12   -32    -6    17    -4    11    -4     0   -14    -3   -26    -3
phrygian: highest               |    17   -26    -5     1    -2   -29    -3   -10     4    -1   -23    -1
phrygian: last                  |    31   -25    -1   -31    -3   -22    -2    -1   -30    -1   -10     0
phrygian: last but one          |     7    14    -4    -5    -3   -20    -1   -11   -14    -2    -3    -2
phrygian: first                 |    15   -17    -2     0    -2   -27    -2    15    -7    -1   -11    -1
phrygian: opening               |     4   -16    -2     4    -2   -21    -2     9     3    -1   -19    -2
phrygian: cadence               |    13     8    -6   -28    -2    -2    -4   -13   -21   -10    -7    -4
phrygian: half cadence          |     7     6    -8     3    -3    -8    -3    14   -28    -6   -20    -4
phrygian: closing bar           |    39     5    -3   -32    -5   -30    -3   -24   -25    -2   -23    -2
phrygian: opening bar           |    15     1    -8     6    -4   -10    -4    21    -5    -3   -51    -3
phrygian: last strong           |    21   -20    -3    -2    -4    -4    -2   -12   -23    -1    -7    -1
phrygian: part ends             |    31   -35    -4    -4    -3   -16    -2    -3   -13    -1   -12    -1
phrygian: strong time           |    76   -56   -15    24   -11    15   -11    87     3    -8   -44    -7
phrygian: strong to root        |    -8   149    13    94   -51  -235    26   121    80   -22  -166  -125
lydian: share                   |    43     7    -4     7   -23   -11     2    15     5   -49     7   -28
lydian: root of share           |    10     3    -1     2    -8    -9    21     4     0   -15     3   -10
lydian: present                 |    -1    -1    -2     0    -1    -3    10    -2    -3    -1     0     0
lydian: long                    |    62    14  -182    17  -166   -18  -102  -163    15  -187    16  -228
lydian: low                     |    39     3   -20     5   -36    -5    -3    14     4   -18     5   -12
lydian: leapt to                |    78    22   -51    19  -179   -23    66   104    20  -239    23   -24
lydian: lowest                  |     2     1   -26     2    -8    -1     9     2     1   -17     1     4
lydian: to root                 |   203    33    82    19    17   -13  -400   241    34  -155    21    11
lydian: from root               |   203   136    76    28   -28   -55    25   326    27  -107    21   -17
lydian: strong                  |    35     7   -15     7   -13    -9    -7    14     6   -42     6   -17
lydian: downbeat                |    11     6   -45     5     6    -6    -8    15     4   -21     4    -7
lydian: highest                 |     6     2   -16     2     2   -10    -7     5     2    -6     2   -30
lydian: last                    |    26     2   -21     3   -24    -1     0     0     2   -17     2    -9
lydian: last but one            |     8     1   -12     2   -21     1   -13    -8     1     8     1   -12
lydian: first                   |     8     3   -15     2   -21     1   -21    19     2    -6     2   -22
lydian: opening                 |     4     3   -13     3    12    -1   -29     1     3   -34     2    -1
lydian: cadence                 |     4     0   -10     2    -7   -13     6     0     1     2     2   -18
lydian: half cadence            |    -1     2   -18     3    -5   -16     3     6     1    -1     2   -14
lydian: closing bar             |    29     8    -1     3   -42     4     7   -15     2    -3     3   -29
lydian: opening bar             |    17     5     2     5    -1    -4   -40    19     4   -45     5   -14
lydian: last strong             |    16     2     1     3   -17     0    -1   -12     1   -11     2    -2
lydian: part ends               |    21     2     1     3   -26    -1   -14   -17     2   -11     3    -4
lydian: strong time             |    50    12   -20    14   -61   -18   -67   -10    12   -87    12   -52
lydian: strong to root          |    30   -10    60    26   -60    -4     7    25   -12   -41    10    37
mixolydian: share               |    41    -8   -52   -24    69   -47   -11    17    -5   -22   -29   -49
mixolydian: root of share       |    17    -6   -12   -15    33   -22    -9     9    -3    -8    17   -36
mixolydian: present             |     1    -4     2    -8     7     2    -7     1    -2     3    25   -21
mixolydian: long                |   128   -16   -68   -28    21   -59   -29   -95   -14   -74  -124   -69
mixolydian: low                 |    29    -5   -11   -14    21   -28    -7    18     0   -25   -17   -10
mixolydian: leapt to            |    83   -12  -238   -39    -1   -38   -20    40     5   -94    -2   -19
mixolydian: lowest              |    15    -2   -16    -5     4    -3    -3     0    -1   -27    10    -6
mixolydian: to root             |   108    17    37  -172   303  -156  -145   130   -49   -17   213  -594
mixolydian: from root           |   108   -46    -9  -302   295   -97  -154   318   -43   -68   259  -624
mixolydian: strong              |    28    -7   -38   -24    58   -33    -9    12    -5    -3   -44   -38
mixolydian: downbeat            |    11    -5   -21   -17    38   -26    -5   -10    -3    25   -35   -17
mixolydian: highest             |     7    -2    -2    -5    23    -1    -2    -4    -2    -8   -16    -8
mixolydian: last                |    17    -2   -10    -3     4   -17    -2   -18    -2   -28     1    -5
mixolydian: last but one        |    10    -4     5    -4    -3   -21    -4   -13    -2   -10    12     0
mixolydian: first               |    19    -1   -13    -4     7    -7    -2    -1    -1   -24     0    -5
mixolydian: opening             |    20    -1   -10    -7    16   -12    -2   -20    -2     0   -17    -5
mixolydian: cadence             |    16    -4    11    -7   -10     1   -10    -4    -7   -34     5   -23
mixolydian: half cadence        |     4     6    11    -6     3    -3   -11   -19    -3   -18    30   -36
mixolydian: closing bar         |    18    -5    -3   -14    22   -21    -4   -20     1   -25   -18    -7
mixolydian: opening bar         |    27    -5   -65   -18    49   -20    -3    17    -5   -10   -49   -16
mixolydian: last strong         |    10    -3    -9    -4    -2    -8    -3    -7    -2   -14     3    -4
mixolydian: part ends           |    15    -3   -10    -6     3   -18    -3    -5    -2   -32     6   -10
mixolydian: strong time         |    70   -12   -39   -41    82    11   -20     4    -4     8   -46   -55
mixolydian: strong to root      |    -1    45   110  -193   174  -128   -36   102   -46    11   -50  -323
aeolian: share                  |    38   -36    47    20   -31   -59   -27    57   -48   -46   -51     9
aeolian: root of share          |    19   -19    23    13   -14   -18   -11    25   -15   -10   -12    32
aeolian: present                |     6    -8     9     4    -4     5    -2     6    12    11     6    27
aeolian: long                   |   150   -74   -17   -19   -73  -115   -68    67  -125  -112    19   -47
aeolian: low                    |    41   -24    45   -55   -19   -47   -18     7   -30   -30     0     1
aeolian: leapt to               |   103   -88  -149  -133   -80   -99   -83    91  -126  -133   -82   -69
aeolian: lowest                 |    -3   -10   -21   -10   -10     5    -9    19   -27   -22     9    -2
aeolian: to root                |   193  -326   153    26  -175  -646  -765   334  -295  -413  -311   701
aeolian: from root              |   193  -266   131   -27  -276  -431  -724   263  -160  -395   -48   543
aeolian: strong                 |    30   -31    30    25   -27   -52   -24    56   -39   -50   -32    -2
aeolian: downbeat               |     8   -19     2    34   -18   -30   -15    29   -18   -35   -17    -8
aeolian: highest                |    16   -11    13     2   -10     6   -10    -6     3   -39   -13    -6
aeolian: last                   |    29   -11     1   -20    -9   -27    -9   -14   -25   -11   -29   -11
aeolian: last but one           |    22    -9    20   -18   -11   -30    -9   -23   -19   -13   -21    26
aeolian: first                  |     3    -9   -11     5    -9   -14    -9    23   -13   -13   -15   -10
aeolian: opening                |    19   -10   -21     2   -11   -21    -8    27   -28   -12   -20    -5
aeolian: cadence                |    18   -15    28   -10   -14    -9    -6     4   -18    14    -6    27
aeolian: half cadence           |    22   -16    22   -30   -13    19    -8    -4   -21     3    -5    14
aeolian: closing bar            |    32   -17    33   -18   -15   -36   -14   -27   -23   -22   -46     4
aeolian: opening bar            |    44   -22    13    15   -25   -53   -16    40   -44   -25   -52     3
aeolian: last strong            |    22   -10    12   -15   -12   -17   -10   -15   -14   -13   -34    -2
aeolian: part ends              |    33   -13   -10   -23   -16   -19   -11    -5   -16   -11   -21   -14
aeolian: strong time            |    86   -57    36    53   -50   -82   -51   122   -85  -109    30   -20
aeolian: strong to root         |     3  -279   161    -6  -133    29  -224   164   -23  -348    80   150
locrian: share                  |    48   -24     6     6     6   -37    54     0   -26     6   -44     4
locrian: root of share          |    13    -5     2     2     3   -11    17    -2    -6     2   -15     1
locrian: present                |    -1    -1     0    -1     1    -1     0    -3     0     0    -1     0
locrian: long                   |   192   -64     9   -31    13   -48   140     2   -44    13  -123     7
locrian: low                    |    35    -5     4   -14     4   -36    48     0   -31     4   -17     3
locrian: leapt to               |   157  -157    14  -178    11   -56   203    -7  -204    13  -199    10
locrian: lowest                 |    19   -20     1    -2     1    -4    16    -2   -15     1   -13     1
locrian: to root                |   232    41    20    75    19  -198   913   -57  -219    14    34   -75
locrian: from root              |   232   -47    15   143    39    45  1079   -79   -29    22   -26   -15
locrian: strong                 |    47   -30     5    11     5   -32    42     0   -16     5   -46     3
locrian: downbeat               |    23   -26     3    19     3   -16    13     1    -2     3   -38     2
locrian: highest                |    17    -7     1     6     1   -17     1     0    -3     1   -23     1
locrian: last                   |    34    -7     2   -19     1    -5    -7     1   -21     1   -23     1
locrian: last but one           |     3    -6     1    -7     1    -5    -2     0   -16     1    14     1
locrian: first                  |    11   -25     1     1     1    -9    26     0   -12     2   -15     0
locrian: opening                |    17   -18     1    11     1   -16    19     1   -23     2   -25     1
locrian: cadence                |    10     6     1   -20     2     6     2     1   -29     2    -2     1
locrian: half cadence           |    -3    12     1   -13     2    11    -6     0   -17     3    -5     2
locrian: closing bar            |    43   -10     2   -24     3   -27    -7     1   -19     2   -14     2
locrian: opening bar            |    43   -30     4    16     4   -34    41     1   -29     4   -39     3
locrian: last strong            |    24     2     2   -10     2    -2   -15     1   -15     2   -24     2
locrian: part ends              |    31    -3     2   -11     2    -3    -7     1   -25     2   -14     2
locrian: strong time            |   124   -30     9     8    10   -47    82     2   -30    11   -80     5
locrian: strong to root         |    82    75    -1    97   -14    14   292   -23   -24     3   -77  -142
costs                           |   693  1067   193
constant: ionian                |   131
constant: dorian                |   114
constant: phrygian              |    84
constant: lydian                |    62
constant: mixolydian            |   102
constant: aeolian               |   117
constant: locrian               |    22
constant: harmonic minor        |   -16
constant: locrian natural 6     |   -38
constant: ionian augmented      |   -38
constant: dorian #4             |   -55
constant: phrygian dominant     |    14
constant: lydian #2             |   -55
constant: ultralocrian          |   -32
constant: melodic minor         |   -46
constant: dorian b2             |   -40
constant: lydian augmented      |   -39
constant: lydian dominant       |   -55
constant: mixolydian b6         |   -49
constant: locrian natural 2     |   -24
constant: altered               |   -29
constant: major pentatonic      |     8
constant: minor pentatonic      |    68
constant: major blues           |   -35
constant: minor blues           |    36
constant: whole tone            |    15
constant: whole-half octatonic  |    -4
constant: half-whole octatonic  |   -43
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
