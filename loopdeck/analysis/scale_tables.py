"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops; and of
``bar_lines``.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each
distance above the root, 0 to 11 semitones; the scores are divided by their temperature already.
"""

TUNES = """
share                           |    62   -18   -23     6    27   -70   -24    81   -27   -39   -62   -66
root of share                   |    30    -6    -4    -1    11   -32    -7    36   -10    -8   -20   -23
present                         |     7    -1    -1    -4    -2     9    -1     2    -2     6     3    -5
long                            |   213   -63  -157  -106   -39   -73   -61     1  -132  -107  -162  -187
low                             |    49   -16    38   -36   -28   -51   -13    29   -14   -31   -28   -24
leapt to                        |   219  -236  -217  -256  -249   -83    26   216  -111  -216   -96  -138
lowest                          |    11   -33   -22    -6    13   -13     6    12   -16   -21    11   -12
to root                         |   259    50    69   300   122  -274   917   343  -118    19  -100   112
from root                       |   259    32    73   330   163  -300   695   424    15  -133     3   -56
strong                          |    51   -32   -34    11    21   -46   -26    50   -25   -34   -51   -58
downbeat                        |    37   -37   -43    21    22   -16   -22     8   -20   -14   -29   -37
highest                         |    24   -24     9     6     4   -12   -22    -9     1     5   -21   -11
last                            |    29   -32   -26   -18    -2   -21   -25   -11   -25   -24   -22   -28
last but one                    |    16     4    11   -13   -18   -30   -20   -23   -23    -7    13    26
first                           |    13   -24   -20    -1    12   -25    -5    22   -12   -19   -12   -17
opening                         |    27   -23   -19     4    10   -24   -16    12   -11   -22   -20    -6
cadence                         |    26     3    16   -23   -12     1   -20   -11   -28    -9   -14    -4
half cadence                    |    12     3    19   -14   -12     7   -16     5   -30   -20     4    12
closing bar                     |    34   -10     0   -22   -13   -30   -19   -27   -17   -24   -35   -29
opening bar                     |    58   -19   -46    14    39   -45    -5    41   -24   -57   -59   -45
last strong                     |    13   -12   -20    -9    -8    -4   -32   -10   -15   -10   -20    -7
part ends                       |    29   -30   -17   -23    -9   -27   -21   -20   -17   -25   -11   -13
strong time                     |    88   -70   -50    -3     0   -47   -80    55   -37   -69   -60  -126
strong to root                  |    33    34   162   117    44   -56   150   136    19     1    42    62
ionian: share                   |    31   -19    -6   -24    46   -63   -32    36   -13   -10   -42   -48
ionian: root of share           |    15    -6     6   -10    22    -2   -13    15     0     0   -25    -3
ionian: present                 |     4     1     4    -2     4    12     1     3     6     3   -15     7
ionian: long                    |   194   -35   -57   -51   122   -81   -14    47   -42   -31   -19   -82
ionian: low                     |    22   -12    39   -16   -10   -36   -19    21   -12   -16   -30   -28
ionian: leapt to                |     1   -69  -172   -78  -209   -99  -113    81   -80   -76   -22  -212
ionian: lowest                  |    10    -4   -11    -8    19   -27    -9    15    -2   -11    -2   -11
ionian: to root                 |   164  -101   135  -121    62  -593  -743   158  -122   114  -375   178
ionian: from root               |   164  -116   115  -179   186   -82 -1523   218   -96   -18  -315    84
ionian: strong                  |    30   -17   -26   -22    37   -55   -26    31   -14   -11   -26   -49
ionian: downbeat                |    15   -11   -25   -15    26   -14   -14    16   -11   -15    -3   -38
ionian: highest                 |    16    -7     3    -7     0    -5   -14    -6    -7    13    -2    -3
ionian: last                    |    14    -8   -23    -8    17   -11    -8    -3     0    -8   -14   -23
ionian: last but one            |    19    -5     2   -10    -6   -14   -14   -25   -11   -12   -10    28
ionian: first                   |    10    -7   -31    -8    20   -20    -8    19    -7   -12   -10    -7
ionian: opening                 |    26    -8   -22   -10     9   -18    -6    11    -8   -21   -13   -16
ionian: cadence                 |    21    -5     1    -9     7     2   -25    -2    -8   -11   -20     5
ionian: half cadence            |    -4    -6    19   -10    -3    15   -13     9    -8   -25   -28    34
ionian: closing bar             |    23   -12   -22   -13     6   -22   -15   -12     1   -13   -17   -27
ionian: opening bar             |    50   -19   -34   -16    48   -30   -13     6   -15   -65   -19   -45
ionian: last strong             |     6    -7   -25    -9    15    -4   -10    -3     1    -3   -11    -9
ionian: part ends               |    23    -6   -29    -9    14   -11    -9    -9    -1   -14   -12   -14
ionian: strong time             |    67   -32   -45   -43    53  -125   -52    31   -32   -20   -22  -112
ionian: strong to root          |    56     1    74  -101    52    -8  -380   112  -105    42  -168    52
dorian: share                   |    23    -9    13    30   -16   -47    -7    47   -38    43   -55   -29
dorian: root of share           |    11    -6     9     8    -8   -22    -3    18   -35    51   -22   -28
dorian: present                 |     1    -4     3    -2    -2     1    -1     2   -27    19     2   -22
dorian: long                    |    94   -18    57   -56   -37   -70   -14    91   -41    64  -146   -26
dorian: low                     |     7    -6    39    14    -8   -34    -2    31   -12   -19   -37   -13
dorian: leapt to                |   122   -27   -55  -167    -3  -102     3   182   -40    -2  -112   -33
dorian: lowest                  |     9    -2   -11     9     5   -22    -3     9    -4    -7    -2   -11
dorian: to root                 |    56   -44     3   267  -249  -483  -735   317  -235    88    69  -667
dorian: from root               |    56   -61    43   335  -157  -290   -23   313  -307   168  -106  -479
dorian: strong                  |    22    -8    13    21   -10   -29    -6    26   -29    11   -47   -20
dorian: downbeat                |    18    -6   -16     4     0     1    -4    14   -14   -14   -24    -7
dorian: highest                 |    -5    -2     8    11   -11    -6    -2    -8   -10    21   -20    -3
dorian: last                    |    25    -2   -21   -21    -3   -13    -4   -23    -4    -5   -15    -4
dorian: last but one            |     1    -2     9     3    -7   -17    -6   -12    -5   -10    18    -8
dorian: first                   |    -4    -2     2    -3    -5   -25    -1    24    -7   -10   -10    -2
dorian: opening                 |    13    -3    -7     4    -7   -21    -2    10    -5   -23    -5     3
dorian: cadence                 |    18    -5     1    -3    -7    12    -4    -8   -19     3   -19    -2
dorian: half cadence            |    16    -6    16    -8   -13   -13    -5     2    -9   -10     4   -19
dorian: closing bar             |    16    -4    23   -11    -9   -11    -5   -19   -10   -23   -14   -14
dorian: opening bar             |    31    -6     4     6   -17   -55     5    41   -17   -25   -37   -22
dorian: last strong             |    12    -2    -5   -24    -7    -1    -3   -10    -4     0   -16     1
dorian: part ends               |    21    -3    15   -15    -6   -25    -3   -21    -6    -3   -10    -4
dorian: strong time             |    13   -15    27   -29   -29   -54   -14     6   -45    -5  -107   -30
dorian: strong to root          |   -46   -63    65    98   -81     3  -116   109  -171   -65    67  -347
phrygian: share                 |    40    15    -6     0    -6   -26    -5    27    -9    -4   -39    -3
phrygian: root of share         |    13    12    -3     2    -5   -10    -4    11    -1    -4   -11    -2
phrygian: present               |     0     6    -3     1    -4     1    -3     1     3    -3     0    -2
phrygian: long                  |   116   -41   -18  -100   -14   -15   -15    -6  -144    -5  -219    -8
phrygian: low                   |    20     6    -4   -12    -3   -20    -3    14    -1    -2   -15    -2
phrygian: leapt to              |   194  -123   -13  -134   -15  -137   -13   111   -29    -8  -156    -5
phrygian: lowest                |     5   -19    -2    -4    -1     7    -3    -3   -15    -1    -5    -1
phrygian: to root               |   164   139   -52   112   -36   -11  -363   419   -65   -48   -51   -56
phrygian: from root             |   164    89    34     8   -78  -327   -62   312    88   -18    -4   -54
phrygian: strong                |    26   -16    -7    11    -5    -3    -5    19   -10    -3   -38    -3
phrygian: downbeat              |    12   -33    -5    16    -3    12    -4    -6   -13    -2   -24    -3
phrygian: highest               |    14   -28    -4     2    -3   -31    -2    -8     3    -1   -23    -1
phrygian: last                  |    27   -37    -1   -32    -3   -15    -1    -8   -26    -1    -7     0
phrygian: last but one          |     7    11    -4    -1    -3   -32    -1   -16   -24    -1     0    -1
phrygian: first                 |    14   -12    -2     1    -2   -35    -1    -1    -7    -1    -8    -1
phrygian: opening               |     1   -15    -2     6    -2   -24    -1     6     2    -1   -22    -1
phrygian: cadence               |    12     8    -5   -41    -2     9    -2   -23   -32    -9    -6    -4
phrygian: half cadence          |     7     1    -8     2    -2     0    -3     5   -37    -6   -16    -4
phrygian: closing bar           |    34     3    -3   -34    -5   -36    -2   -29   -25    -2   -16    -1
phrygian: opening bar           |    12     1    -6     3    -3    -9    -3    15    -5    -2   -49    -3
phrygian: last strong           |    18   -13    -2    -4    -4    -4    -1   -14   -27    -1    -6     0
phrygian: part ends             |    29   -35    -3    -4    -2   -17    -2   -14   -20    -1    -8    -1
phrygian: strong time           |    51   -75   -10    26    -9    12    -9    61     1    -5   -37    -6
phrygian: strong to root        |   -14    63    33   110   -49  -266    67    65    69   -16  -120  -127
lydian: share                   |    42     7    -2     7   -19   -13     5    17     4   -51     7   -34
lydian: root of share           |    12     2    -1     2    -6   -10    24     5    -1   -15     2   -12
lydian: present                 |    -1    -1    -2     0    -1    -4    11    -2    -3    -1     0     0
lydian: long                    |    81    13  -171    16  -190   -20   -84  -154    14  -192    15  -217
lydian: low                     |    36     3   -20     5   -39    -6    -5    22     3   -19     4   -14
lydian: leapt to                |    87    21   -47    18  -173   -29    56    96    19  -240    22   -10
lydian: lowest                  |     4     1   -27     2    -4    -2    13     3     1   -18     1    -3
lydian: to root                 |   213    30    99    15    44   -20  -399   224    29  -130    19    -8
lydian: from root               |   213   124    93    25    38   -60   -30   289    23  -102    19   -33
lydian: strong                  |    32     6   -13     7   -11   -11    -6    15     5   -39     6   -22
lydian: downbeat                |     8     4   -43     5     9    -6    -4    13     4   -13     4   -12
lydian: highest                 |     5     2   -14     2     1   -11    -5     7     2    -4     2   -33
lydian: last                    |    25     1   -16     2   -28    -1    -7     0     2   -17     2   -16
lydian: last but one            |     8     1   -14     1   -19     1   -10    -7     0     8     1   -14
lydian: first                   |     2     3   -14     2   -20     1   -20    20     2    -6     2   -21
lydian: opening                 |     5     2   -12     2    11    -1   -32     2     2   -32     2     1
lydian: cadence                 |     4     0    -1     2   -11   -13     3     1     0     3     1   -19
lydian: half cadence            |    -2     2   -11     2    -7   -17     1     5     0     2     2   -17
lydian: closing bar             |    30     7     0     3   -48     4     7   -14     2    -2     3   -32
lydian: opening bar             |    17     4    -3     4    -3    -5   -31    24     4   -43     5   -15
lydian: last strong             |    14     2     4     3   -20     0    -1   -10     1   -11     2    -6
lydian: part ends               |    19     2     6     3   -29    -2    -7   -15     2   -15     3    -3
lydian: strong time             |    54    10   -16    13   -75   -19   -53    -5    11   -87    11   -53
lydian: strong to root          |    25   -17    86    25   -30    -3     4     1   -17   -22     7    14
mixolydian: share               |    37    -6   -46   -22    75   -41    -9    13    -4   -18   -22   -49
mixolydian: root of share       |    16    -5    -9   -15    36   -18    -8     7    -2    -6    27   -36
mixolydian: present             |     1    -4     2    -8     7     1    -7     1    -1     2    31   -21
mixolydian: long                |   131   -13   -99   -23    23   -61   -27   -91   -11   -45  -134   -65
mixolydian: low                 |    29    -4   -13   -13    21   -28    -6    18     2   -19   -18   -10
mixolydian: leapt to            |    68    -8  -224   -35    39   -43   -17    51    11   -85    -8   -10
mixolydian: lowest              |    15    -2   -15    -4     7     0    -3     0    -1   -25     8   -23
mixolydian: to root             |    93    28     8  -163   334  -169  -154    67   -43   -53   261  -596
mixolydian: from root           |    93   -40   -17  -297   270  -146  -155   332   -38  -139   290  -675
mixolydian: strong              |    27    -6   -29   -22    58   -27    -8     4    -3     7   -46   -38
mixolydian: downbeat            |    16    -4   -17   -17    33   -23    -4   -17    -2    32   -39   -20
mixolydian: highest             |     6    -2    -2    -3    25    -1    -2    -8    -2    -8   -13    -7
mixolydian: last                |    19    -1    -9    -3    -7   -13    -2   -19    -2   -29     5    -4
mixolydian: last but one        |     9    -4     8    -4    -4   -26    -3   -12    -2    -7    14     2
mixolydian: first               |    17     0   -12    -4    14   -10    -1    -1    -1   -24     0    -4
mixolydian: opening             |    21    -1    -7    -6    10   -11    -2   -21    -1     4   -21    -4
mixolydian: cadence             |    19    -3     7    -6   -12     0    -8     2    -7   -30     2   -22
mixolydian: half cadence        |    -2     8     8    -6     2    -4   -10    -9    -2   -16    29   -36
mixolydian: closing bar         |    20    -4    -1   -14    14   -18    -3   -26     2   -26   -15    -4
mixolydian: opening bar         |    30    -5   -65   -17    51   -18    -1     4    -4    -3   -52   -14
mixolydian: last strong         |    11    -2    -9    -4   -14    -3    -2    -8    -1   -14     4    -1
mixolydian: part ends           |    16    -2   -10    -5    -3   -17    -3    -6    -2   -27     9   -10
mixolydian: strong time         |    64    -9   -41   -38    67    14   -18   -18    -2    22   -51   -55
mixolydian: strong to root      |     6    61   106  -181   144  -122   -30    78   -39    36   -61  -314
aeolian: share                  |    34   -36    43    34   -30   -51   -27    61   -41   -48   -58     8
aeolian: root of share          |    18   -19    22    18   -15   -16   -12    26    -3   -16   -17    32
aeolian: present                |     5    -8     9     5    -5     5    -4     5    24     7     6    26
aeolian: long                   |   149   -74   -36   -11   -71   -86   -65    73  -131  -104   -19   -42
aeolian: low                    |    37   -23    53   -51   -18   -40   -17     9   -23   -30    -6    -1
aeolian: leapt to               |    63   -90  -124  -148   -83   -78   -81    87  -160  -142  -133   -60
aeolian: lowest                 |    -3    -9   -17    -9   -10     0    -9    19   -29   -21    13     2
aeolian: to root                |   181  -335   146    43  -169  -593  -791   293  -304  -426  -316   650
aeolian: from root              |   181  -291   101     2  -268  -345  -770   281  -116  -379   -61   414
aeolian: strong                 |    25   -31    28    37   -27   -51   -24    62   -36   -49   -37    -3
aeolian: downbeat               |     4   -19   -10    40   -17   -30   -14    32   -17   -33   -20    -9
aeolian: highest                |    18   -11    13    -2   -11     4    -9    -1     4   -37   -15    -2
aeolian: last                   |    24   -11     2    -2    -9   -27    -8    -3   -25   -10   -36   -11
aeolian: last but one           |    26    -8    16   -20   -12   -31    -8   -23   -14   -13   -19    25
aeolian: first                  |     1    -9    -7     5    -9   -14    -9    20    -7   -12   -14    -9
aeolian: opening                |    18   -10   -16     4   -10   -19    -6    28   -24   -13   -25   -13
aeolian: cadence                |    17   -15    31   -13   -15   -12    -4     3   -13    25    -4    15
aeolian: half cadence           |     4   -16    20   -28   -11    17    -6     4   -19     3     0    18
aeolian: closing bar            |    30   -16    31     3   -15   -42   -13   -20   -22   -22   -55     3
aeolian: opening bar            |    41   -21     7    22   -24   -48   -14    36   -38   -24   -50     4
aeolian: last strong            |    17    -9     0     3   -11   -19    -9    -7   -12   -11   -32   -10
aeolian: part ends              |    32   -12   -10   -21   -15   -25   -10     1   -10    -9   -20   -14
aeolian: strong time            |    86   -57    57    78   -47   -73   -48   150   -80   -98    20   -19
aeolian: strong to root         |   -35  -277   228    -4  -121     5  -241   147    -5  -331    33   107
locrian: share                  |    42   -26     7    -3     7   -41    48     1   -18     7   -33     5
locrian: root of share          |    10    -6     3    -1     3   -14    15    -1    -3     3   -11     2
locrian: present                |    -1    -1     0    -1     1    -1     0    -2     0     1    -1     0
locrian: long                   |   152   -31    11   -10    15   -28   123     5   -40    15  -120     9
locrian: low                    |    32    -7     4   -12     4   -26    37     1   -29     4   -16     3
locrian: leapt to               |   165  -119    16  -181    11   -25   233    -3  -199    16  -168    15
locrian: lowest                 |    20   -16     1    -5     1    -4    12    -1   -15     1    -7     1
locrian: to root                |   205    -4    22    64    22   -78   948   -45  -207    17    55   -64
locrian: from root              |   205   -44    18   -14    40    73  1129   -63    34    25    -7   -11
locrian: strong                 |    41   -33     6    11     6   -28    30     2   -15     6   -35     4
locrian: downbeat               |    20   -28     4    23     4    -7    -1     2    -9     4   -33     2
locrian: highest                |    17    -2     1     3     2   -11    -7     1    -8     2   -19     1
locrian: last                   |    32    -9     2   -23     1    -4    -5     1   -18     2   -21     1
locrian: last but one           |     3    -4     1   -12     2    -4    -3     1   -16     1    13     1
locrian: first                  |    13   -20     1    -3     1    -5    23     0   -18     2   -15     0
locrian: opening                |    14   -18     1    11     1   -11    15     1   -26     2   -20     2
locrian: cadence                |    -1     3     1   -20     2     3     1     1   -23     2     2     2
locrian: half cadence           |    -1     6     2   -13     2     8    -2     0   -14     3   -10     2
locrian: closing bar            |    40   -11     3   -26     3   -16    -6     1   -22     3    -3     3
locrian: opening bar            |    29   -26     4    19     4   -38    33     2   -29     4   -37     3
locrian: last strong            |    21    -1     2    -5     2    -4   -18     1   -11     2   -18     2
locrian: part ends              |    29   -12     2    -9     2    -8    -6     1   -18     2    -8     2
locrian: strong time            |    98   -33    11    16    12   -45    54     4   -25    12   -69     7
locrian: strong to root         |    76   -21     1    98   -18   -13   302   -16   -84     5   -29  -129
costs                           |   682  1047   199
constant: ionian                |   130
constant: dorian                |   134
constant: phrygian              |    91
constant: lydian                |    76
constant: mixolydian            |   136
constant: aeolian               |   131
constant: locrian               |    21
constant: harmonic minor        |   -16
constant: locrian natural 6     |   -38
constant: ionian augmented      |   -39
constant: dorian #4             |   -58
constant: phrygian dominant     |    14
constant: lydian #2             |   -57
constant: ultralocrian          |   -31
constant: melodic minor         |   -47
constant: dorian b2             |   -40
constant: lydian augmented      |   -40
constant: lydian dominant       |   -58
constant: mixolydian b6         |   -54
constant: locrian natural 2     |   -23
constant: altered               |   -28
constant: major pentatonic      |     7
constant: minor pentatonic      |    70
constant: major blues           |   -36
constant: minor blues           |    37
constant: whole tone            |    15
constant: whole-half octatonic  |    -1
constant: half-whole octatonic  |   -44
"""

LOOPS = """
share                           |   -50   -35  -185   -20  -234  -126    42   284   143   284   -79   -24
root of share                   |   258  -144   274   -82   137  -248    40   422  -152  -261  -253     9
present                         |  -115    24  -117    90    33    -8    19  -126    18    95    55    34
long                            |  -221   -11   100    55   -34    78    16  -238   -25   132   160   -12
low                             |   503   -23  -111  -103  -276    28   -61   -64  -173    58   155    69
leapt to                        |  1319    90  -166  -184  -426  -434   -84   294   -57  -255   119  -217
lowest                          |   158     8    -1  -144   -10  -297  -251   -61   152   169   118   159
to root                         |   295   -74  -162   243   608  -190  -164  -128   472   285   -52   142
from root                       |   295   -35    71  -101  -101  -113    26   312    -6   -21    81   209
strong                          |   -10  -222     8   -33    83     8    61    97    17    -6   -18    15
downbeat                        |   131    77    18     7   -31   -23   -20   -61   -54   -24    -1   -19
ionian: share                   |   -31    -4   -39   -28   133   -37   -16    37    -7    19   -13    -7
ionian: root of share           |    14   -14   -85  -110   215   -46   -29    43   -17   -40   -44  -151
ionian: strong                  |  -140   -10   -16   -25   115   -23   -21   137   -11    14   -12    -1
dorian: share                   |    39     6   -19    -2     5    -6    -4   -35     9    37   -41    16
dorian: root of share           |    19    22  -144    42    19  -104   -38   -19    25   104   -43    55
dorian: strong                  |    88    12   -24   -40    13   -26     5   -57     8    11    -4    20
phrygian: share                 |     8    21    11   -31     4     5    10     5   -56     5     6    15
phrygian: root of share         |    17   103    34   -12     1    39    46    17   -53    20    32    30
phrygian: strong                |    11    38    19   -57    -1    -6    10   -27   -34    13    27    10
lydian: share                   |    -5     6    -4    -2     9    18     1   -42    16    -6    11    -1
lydian: root of share           |     9    30   -23   -14    40    70    23   -57    59   -10    35    18
lydian: strong                  |   -13    -2    -4     4    13    13     8   -45     7   -28     9    41
mixolydian: share               |    45    23   -17     7    57  -108   -14   -36     3    24    16     7
mixolydian: root of share       |    21    74   -81    18   112  -223   -50   -48    12    36    42    23
mixolydian: strong              |    65    26    19   -10    44   -83   -16   -83     9    23    -7    20
aeolian: share                  |    72    -6    13    -4   -17   -19     1   -27   -34     5    35   -10
aeolian: root of share          |    80   -26  -166   -13   -69   -91    -4    22   -23    46    34    36
aeolian: strong                 |    -2    21   -13    22    -5   -31    33    10   -52    13     8     5
locrian: share                  |    26   -42     4     6    -4     4    11     4    -2   -11    24   -13
locrian: root of share          |    22  -145    16    15   -21    -2    30    18    10   -38    35   -34
locrian: strong                 |    19   -41     3    17     0     4    23     8    10    -9    -9   -20
costs                           |  1067  1220   252
constant: ionian                |   179
constant: dorian                |   215
constant: phrygian              |   123
constant: lydian                |  -114
constant: mixolydian            |   194
constant: aeolian               |   273
constant: locrian               |   131
constant: harmonic minor        |    33
constant: locrian natural 6     |   -84
constant: ionian augmented      |  -122
constant: dorian #4             |  -243
constant: phrygian dominant     |   114
constant: lydian #2             |  -409
constant: ultralocrian          |  -216
constant: melodic minor         |   -41
constant: dorian b2             |   -61
constant: lydian augmented      |  -220
constant: lydian dominant       |  -174
constant: mixolydian b6         |   -45
constant: locrian natural 2     |   -12
constant: altered               |  -108
constant: major pentatonic      |   254
constant: minor pentatonic      |   444
constant: major blues           |    70
constant: minor blues           |   256
constant: whole tone            |    66
constant: whole-half octatonic  |  -205
constant: half-whole octatonic  |  -286
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
