"""A hide and a job written in Python instead of files: how many of one panel does it give?"""

import nestplan

hide = nestplan.Hide(
    name="shoulder",
    leather="vegetable tanned",
    outline=((0, 0), (900, 20), (980, 400), (860, 760), (60, 720)),
    backbone=((980, 400), (0, 380)),
    flaws=(
        nestplan.Flaw(
            spoils="through", name="hole", outline=((300, 300), (340, 300), (340, 340), (300, 340))
        ),
    ),
)
panel = nestplan.Piece(name="panel", outline=((0, 0), (180, 0), (180, 120), (0, 120)))
job = nestplan.Job(name="panels", articles=(nestplan.Article(name="panel", sets=4, pieces=(panel,)),))

plan = nestplan.plan(job, [hide], goal="fill", passes=2)
print(f"{plan.figures.sets[0].whole} panels, {plan.figures.net_yield:.0%} of the hide")
nestplan.write(hide, "shoulder.hide.json")
nestplan.draw(hide, "shoulder.svg")
