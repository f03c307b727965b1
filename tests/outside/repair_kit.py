"""Cases of the repair-kit problem, with exact answers.

The problem: Smith, Chambers and Shlifer, "Optimal inventories based on job completion rate for repairs requiring
multiple items", Management Science 26(8), 1980; Mamer and Smith, "Optimizing field repair kits based on job completion
rate", Management Science 28(11), 1982; Graves, "A multiple-item inventory model with a job completion criterion", MIT
working paper 1252-81, later Management Science 28(11), 1982; Teunter, "The multiple-job repair kit problem", European
Journal of Operational Research 175(2), 2006; Gorman, "Multiple period repair kit problem with capacity
considerations", Journal of Transportation Technologies 6(5), 2016.

Of these the abstracts, and the beginnings of Graves's and Gorman's text, could be read; none of their tables of
numbers could. So the answers here are not published: they were worked out by looking at every kit and everything that
may turn out, in exact fractions, apart from this project's code; the tests do so once more. What the abstracts do say
is tested as well: that the optimal kit has the form of marginal analysis, a beginning of one order of the parts (Smith
and others), though the objective is not separable.
"""

from fractions import Fraction as F

#: E1: parts A to D with their chance of being needed and the cost of carrying them; by the cost of a stopped job the
#: expected cost, and the kits that have it.
PARTS = {"A": (F(3, 10), 4), "B": (F(1, 5), 6), "C": (F(1, 10), 2), "D": (F(1, 20), 5)}
BEST = {
    10: (F(1303, 250), [""]),
    20: (F(258, 25), ["A"]),
    30: (F(66, 5), ["AC"]),
    40: (F(14), ["ABC"]),
    60: (F(15), ["ABC"]),
    100: (F(17), ["ABC", "ABCD"]),
    150: (F(17), ["ABCD"]),
}

#: E2: three parts, each needed every second time: carrying any is worth it only if all go, and all are too dear.
THREE = {"chance": F(1, 2), "carrying": 40, "stopped": 100, "best": F(175, 2), "all": F(120)}

#: E3: parts that are needed together: the cost of carrying, the jobs with their chances, by the cost of a stopped job
#: the expected cost, the kits that have it, and the cost of the next best.
CARRYING = {"A": 4, "B": 6, "C": 3, "D": 5, "E": 2}
JOBS = {"A": F(20, 100), "AB": F(15, 100), "BC": F(10, 100), "D": F(5, 100), "CDE": F(20, 100), "": F(30, 100)}
TOGETHER = {20: (14, ["", "A"], None), 40: (20, ["ABCDE"], 23), 60: (20, ["ABCDE"], 28), 80: (20, ["ABCDE"], 33)}

#: E4: two jobs from one kit, each of which may need each of two parts; a job that is stopped uses nothing.
TWO_JOBS = {
    "chances": (F(3, 10), F(1, 5)), "carrying": (4, 6), "stopped": 40, "best": ((1, 1), F(1882, 125)),
    "next": ((2, 1), F(78, 5))}
