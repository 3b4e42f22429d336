# ruff: noqa: E501
"""Changes planted in the workshop tables, each with all that the report must say of it; read line by line before they were written down."""

from __future__ import annotations

from tests.planting import Planted

PLANTED: tuple[Planted, ...] = (
    Planted(
        "the order of rows means nothing",
        (
            ("statements", 'rivet,stocked,6,,,shop-ledger,"label, invented",,\n', ""),
            (
                "statements",
                'screw,thread,present,,,drawer-labels,"label, invented",,\n',
                'screw,thread,present,,,drawer-labels,"label, invented",,\nrivet,stocked,6,,,shop-ledger,"label, invented",,\n',
            ),
        ),
        (),
    ),
    Planted(
        "a widened range",
        (("statements", "wire-nail,length,20-100 mm", "wire-nail,length,10-100 mm"),),
        (
            "row changed statements wire-nail.length.drawer-labels (value)",
            "cell wire-nail length hard widened: 20–120 mm -> 10–120 mm <- statements wire-nail.length.drawer-labels",
            "cell wire-nail length typical widened: 20–100 mm -> 10–100 mm <- statements wire-nail.length.drawer-labels",
        ),
    ),
    Planted(
        "a narrowed range that is only rare",
        (("statements", "machine-screw,length,20-40 mm,rarely", "machine-screw,length,20-30 mm,rarely"),),
        (
            "row changed statements machine-screw.length.shop-ledger.rarely (value)",
            "cell machine-screw length hard narrowed: 5–48 mm -> 5–36 mm <- statements machine-screw.length.shop-ledger.rarely",
        ),
    ),
    Planted(
        "a range elsewhere",
        (("statements", "lost-head-nail,length,40 mm", "lost-head-nail,length,140 mm"),),
        (
            "row changed statements lost-head-nail.length.drawer-labels (value)",
            "cell lost-head-nail length hard moved: 40–48 mm -> 140–168 mm <- statements lost-head-nail.length.drawer-labels",
            "cell lost-head-nail length typical moved: 40–44 mm -> 140–154 mm <- statements lost-head-nail.length.drawer-labels",
            "answers lost-head-nail out by length <- statements lost-head-nail.length.drawer-labels",
        ),
    ),
    Planted(
        "a pair loses what decided between it",
        (("statements", 'rivet,thread,absent,,,drawer-labels,"label, invented",,', 'rivet,thread,present|absent,,,drawer-labels,"label, invented",,'),),
        (
            "row changed statements rivet.thread.drawer-labels (value)",
            "cell rivet thread hard widened: absent -> any <- statements rivet.thread.drawer-labels",
            "cell rivet thread typical widened: absent -> any <- statements rivet.thread.drawer-labels",
            "answers rivet in by pitch <- statements rivet.thread.drawer-labels",
            "pair coach-bolt rivet decisive no longer separable in 4 by thread <- statements rivet.thread.drawer-labels",
        ),
    ),
    Planted(
        "a pair gains what decides between it",
        (("statements", 'rivet,thread,present|absent,,,drawer-labels,"label, invented",,', 'rivet,thread,absent,,,drawer-labels,"label, invented",,'),),
        (
            "row changed statements rivet.thread.drawer-labels (value)",
            "cell rivet thread hard narrowed: any -> absent <- statements rivet.thread.drawer-labels",
            "cell rivet thread typical narrowed: any -> absent <- statements rivet.thread.drawer-labels",
            "answers rivet out by pitch, thread <- statements rivet.thread.drawer-labels",
            "pair coach-bolt rivet decisive separable in 4 by thread <- statements rivet.thread.drawer-labels",
            "alone coach-bolt rivet thread <- statements rivet.thread.drawer-labels",
        ),
        before=(("statements", 'rivet,thread,absent,,,drawer-labels,"label, invented",,', 'rivet,thread,present|absent,,,drawer-labels,"label, invented",,'),),
    ),
    Planted(
        "a common name that is another taxon's first one too",
        (("names", "", 'rivet,wire nail,common,en,shop-ledger,"p. 9, invented"'),),
        (
            "row added names rivet.wire nail.shop-ledger",
            "name wire nail of rivet wire-nail means wire-nail <- names rivet.wire nail.shop-ledger",
        ),
    ),
    Planted(
        "a common name that two taxa have beside their first ones",
        (("names", "", 'rivet,French nail,common,en,shop-ledger,"p. 9, invented"'),),
        (
            "row added names rivet.French nail.shop-ledger",
            "name french nail of rivet wire-nail means  <- names rivet.French nail.shop-ledger",
        ),
    ),
    Planted(
        "a taxon that nothing separates from another",
        (
            ("taxa", "", "tack,species,nail,Tack,,,,,"),
            ("statements", "", 'tack,head,flat,,,drawer-labels,"label, invented",,'),
        ),
        (
            "row added taxa tack",
            "row added statements tack.head.drawer-labels",
            "pair wire-nail tack typical not separable in 4 by  <- taxa tack",
            "alone coach-bolt tack head <- statements tack.head.drawer-labels",
            "alone lost-head-nail tack head <- statements tack.head.drawer-labels",
            "alone rivet tack head <- statements tack.head.drawer-labels",
        ),
    ),
    Planted(
        "a pair that can hurt loses a separator",
        (("statements", "wood-screw,drive,slot,usually,,", "wood-screw,drive,slot|no-recess,usually,,"),),
        (
            "row changed statements wood-screw.drive.drawer-labels.usually (value)",
            "cell wood-screw drive hard widened: cross or slot -> not hex <- statements wood-screw.drive.drawer-labels.usually",
            "cell wood-screw drive typical widened: slot or cross-plain -> not cross-ribbed or hex <- statements wood-screw.drive.drawer-labels.usually",
            "answers wood-screw in by drive <- statements wood-screw.drive.drawer-labels.usually",
            "pair wood-screw coach-bolt decisive no longer separable in 4 by drive <- statements wood-screw.drive.drawer-labels.usually",
            "pair wood-screw screw-nail decisive no longer separable in 4 by drive <- statements wood-screw.drive.drawer-labels.usually",
            "lost wood-screw screw-nail drive decisive [] <- statements wood-screw.drive.drawer-labels.usually",
        ),
    ),
    Planted(
        "the loss is accepted with a reason",
        (
            ("statements", "wood-screw,drive,slot,usually,,", "wood-screw,drive,slot|no-recess,usually,,"),
            ("acknowledged", "", "one,other,character,reason,by,date\nscrew-nail,wood-screw,drive,The recess was overlooked.,Lenticel developers,2026-11-29"),
        ),
        (
            "row changed statements wood-screw.drive.drawer-labels.usually (value)",
            "cell wood-screw drive hard widened: cross or slot -> not hex <- statements wood-screw.drive.drawer-labels.usually",
            "cell wood-screw drive typical widened: slot or cross-plain -> not cross-ribbed or hex <- statements wood-screw.drive.drawer-labels.usually",
            "answers wood-screw in by drive <- statements wood-screw.drive.drawer-labels.usually",
            "pair wood-screw coach-bolt decisive no longer separable in 4 by drive <- statements wood-screw.drive.drawer-labels.usually",
            "pair wood-screw screw-nail decisive no longer separable in 4 by drive <- statements wood-screw.drive.drawer-labels.usually",
            "lost wood-screw screw-nail drive decisive [The recess was overlooked.] <- statements wood-screw.drive.drawer-labels.usually",
        ),
    ),
    Planted(
        "what was not lost is accepted",
        (("acknowledged", "", "one,other,character,reason,by,date\nscrew-nail,wood-screw,drive,The recess was overlooked.,Lenticel developers,2026-11-29"),),
        ("stale screw-nail, wood-screw: drive",),
    ),
    Planted(
        "a moved species",
        (("taxa", "screw-nail,hybrid,nail,", "screw-nail,hybrid,screw,"),),
        (
            "row changed taxa screw-nail (parent)",
            "answers screw-nail in by drive, thickness <- taxa screw-nail",
            "pair wood-screw screw-nail decisive no longer separable in 4 by drive <- taxa screw-nail",
            "pair machine-screw screw-nail decisive no longer separable in 4 by drive <- taxa screw-nail",
            "pair wood-screw screw-nail typical no longer separable in 4 by drive, drawer <- taxa screw-nail",
            "lost wood-screw screw-nail drive decisive [] <- taxa screw-nail",
        ),
    ),
    Planted(
        "a retired state",
        (
            ("states", "drive,cross-ribbed,cross ribbed,cross,,,,Invented state of drive: cross-ribbed.\n", ""),
            ("states", "cross plain,cross,,cross-ribbed,", "cross plain,cross,,,"),
        ),
        (
            "row changed states drive.cross-plain (confusable_with)",
            "row gone states drive.cross-ribbed",
            "cell wood-screw drive hard narrowed: cross or slot -> slot or cross-plain <- states drive.cross-plain, states drive.cross-ribbed",
        ),
    ),
    Planted(
        "a state that observers take for another",
        (("states", "head,flat,flat,,,,", "head,flat,flat,,,round,"),),
        (
            "row changed states head.flat (confusable_with)",
            "cell coach-bolt head hard widened: mushroom -> flat or mushroom <- states head.flat",
            "cell machine-screw head hard widened: flat or pan -> round or flat <- states head.flat",
            "cell rivet head hard widened: round -> round or flat <- states head.flat",
            "cell screw-nail head hard widened: flat -> round or flat <- states head.flat",
            "cell wire-nail head hard widened: flat -> round or flat <- states head.flat",
            "answers machine-screw in by head <- states head.flat",
            "answers rivet in by head <- states head.flat",
            "answers screw-nail in by head <- states head.flat",
            "answers wire-nail in by head <- states head.flat",
            "pair coach-bolt screw-nail decisive no longer separable in 4 by head <- states head.flat",
            "pair wire-nail rivet decisive no longer separable in 4 by head <- states head.flat",
        ),
    ),
    Planted(
        "slack of a character",
        (("characters", "mm,1,500,,,yes,0%,20%,10%", "mm,1,500,,,yes,0%,40%,10%"),),
        (
            "row changed characters length (slack_high)",
            "cell lost-head-nail length hard widened: 40–48 mm -> 40–56 mm <- characters length",
            "cell lost-head-nail length typical widened: 40–44 mm -> 40–48 mm <- characters length",
            "cell machine-screw length hard widened: 5–48 mm -> 5–56 mm <- characters length",
            "cell wire-nail length hard widened: 20–120 mm -> 20–140 mm <- characters length",
        ),
    ),
    Planted(
        "a character whose lists are no longer exhaustive",
        (
            (
                "characters",
                "head,head,states,,head,,,spring|summer|autumn|winter,eye,diagnostic,,,,,,,,yes",
                "head,head,states,,head,,,spring|summer|autumn|winter,eye,diagnostic,,,,,,,,no",
            ),
        ),
        (
            "row changed characters head (exhaustive)",
            "cell coach-bolt head hard gone: mushroom -> unknown <- characters head",
            "cell lost-head-nail head hard gone: none -> unknown <- characters head",
            "cell machine-screw head hard gone: flat or pan -> unknown <- characters head",
            "cell rivet head hard gone: round -> unknown <- characters head",
            "cell screw-nail head hard gone: flat -> unknown <- characters head",
            "cell wire-nail head hard gone: flat -> unknown <- characters head",
            "cell wood-screw head hard gone: round or flat -> unknown <- characters head",
            "answers lost-head-nail in by head <- characters head",
            "answers machine-screw in by head <- characters head",
            "answers rivet in by head <- characters head",
            "answers screw-nail in by head <- characters head",
            "answers wire-nail in by head <- characters head",
            "pair coach-bolt screw-nail decisive no longer separable in 4 by head <- characters head",
            "pair wire-nail lost-head-nail decisive no longer separable in 4 by head <- characters head",
            "pair wire-nail rivet decisive no longer separable in 4 by head <- characters head",
            "pair lost-head-nail rivet decisive no longer separable in 4 by head <- characters head",
        ),
    ),
    Planted(
        "a character that is seen in fewer seasons",
        (("characters", "thread,thread,states,,shank,,,spring|summer|autumn|winter", "thread,thread,states,,shank,,,summer"),),
        (
            "row changed characters thread (seasons)",
            "pair coach-bolt rivet decisive no longer separable in 3 by thread <- characters thread",
            "pair wire-nail screw-nail decisive no longer separable in 3 by thread <- characters thread",
            "pair wire-nail screw-nail typical no longer separable in 3 by thread <- characters thread",
        ),
    ),
    Planted(
        "a new disagreement",
        (("statements", "", 'coach-bolt,thickness,thin,,,drawer-labels,"label, invented",,'),),
        (
            "row added statements coach-bolt.thickness.drawer-labels",
            "cell coach-bolt thickness hard widened: thick or very-thick -> thin or medium or thick or very-thick <- statements coach-bolt.thickness.drawer-labels",
            "cell coach-bolt thickness typical widened: very-thick -> thin or very-thick <- statements coach-bolt.thickness.drawer-labels",
            "dispute appeared coach-bolt.thickness.drawer-labels coach-bolt.thickness.shop-ledger <- statements coach-bolt.thickness.drawer-labels",
        ),
    ),
    Planted(
        "a disagreement that is settled",
        (
            (
                "resolutions",
                "",
                "taxon,character,one,other,reason,text,by,date\ncoach-bolt,thickness,drawer-labels,shop-ledger,misprint,The label is smudged.,Lenticel developers,2026-11-29",
            ),
        ),
        (
            "row added resolutions coach-bolt.thickness.drawer-labels.shop-ledger",
            "dispute settled coach-bolt.thickness.drawer-labels coach-bolt.thickness.shop-ledger <- resolutions coach-bolt.thickness.drawer-labels.shop-ledger",
        ),
        before=(("statements", "", 'coach-bolt,thickness,thin,,,drawer-labels,"label, invented",,'),),
    ),
    Planted(
        "a new taxon",
        (
            ("taxa", "", "tack,species,nail,Tack,,,,,"),
            ("statements", "", 'tack,length,5-15 mm,,,drawer-labels,"label, invented",,'),
        ),
        (
            "row added taxa tack",
            "row added statements tack.length.drawer-labels",
            "pair rivet tack typical not separable in 4 by  <- taxa tack",
            "alone coach-bolt tack length <- statements tack.length.drawer-labels",
            "alone wire-nail tack length <- statements tack.length.drawer-labels",
            "alone lost-head-nail tack length <- statements tack.length.drawer-labels",
        ),
    ),
    Planted(
        "a taxon that is gone",
        (
            ("released", "taxon/rivet,2026-11-25,", "taxon/rivet,2026-11-25,https://example.org/workshop/taxon/wire-nail"),
            (
                "released",
                "taxon/pop-rivet,2026-11-25,https://example.org/workshop/taxon/rivet",
                "taxon/pop-rivet,2026-11-25,https://example.org/workshop/taxon/wire-nail",
            ),
            ("taxa", "rivet,species,fastener,Rivet,,,,,\n", ""),
            ("statements", 'rivet,thread,absent,,,drawer-labels,"label, invented",,\n', ""),
            ("statements", 'rivet,head,round,,,drawer-labels,"label, invented",,\n', ""),
            ("statements", 'rivet,drive,no-recess,,,drawer-labels,"label, invented",,\n', ""),
            ("statements", 'rivet,thickness,medium,,,shop-ledger,"label, invented",,\n', ""),
            ("statements", 'rivet,stocked,6,,,shop-ledger,"label, invented",,\n', ""),
        ),
        (
            "row gone taxa rivet",
            "row gone statements rivet.drive.drawer-labels",
            "row gone statements rivet.head.drawer-labels",
            "row gone statements rivet.stocked.shop-ledger",
            "row gone statements rivet.thickness.shop-ledger",
            "row gone statements rivet.thread.drawer-labels",
        ),
    ),
    Planted(
        "another source says the same",
        (("statements", "", 'rivet,head,round,,,shop-ledger,"label, invented",,'),),
        ("row added statements rivet.head.shop-ledger",),
    ),
    Planted(
        "only words",
        (
            ("taxa", "Coach bolt,,", "Coach bolt,,carriage bolt"),
            ("statements", 'rivet,head,round,,,drawer-labels,"label, invented"', 'rivet,head,round,,,drawer-labels,"label 2, invented"'),
        ),
        (
            "row changed taxa coach-bolt (common_name)",
            "row changed statements rivet.head.drawer-labels (locator)",
        ),
    ),
    Planted(
        "a character that nothing uses",
        (
            (
                "characters",
                "",
                "weight,weight,measure,,shank,,,spring|summer|autumn|winter,ruler,diagnostic,,,g,1,100,,,yes,10%,10%,5%,Kitchen scales.,,Weight of one.",
            ),
        ),
        (
            "row added characters weight",
            "unused weight",
        ),
    ),
    Planted(
        "a new look-alike",
        (("lookalikes", "", 'rivet|wire-nail,Both are smooth.,thread,winter,,shop-ledger,"p. 4, invented",'),),
        ("row added lookalikes rivet.wire-nail.shop-ledger",),
    ),
    Planted(
        "a condition is taken away",
        (
            (
                "characters",
                "pitch,pitch of the thread,measure,,shank,,,spring|summer|autumn|winter,ruler,diagnostic,thread: present,",
                "pitch,pitch of the thread,measure,,shank,,,spring|summer|autumn|winter,ruler,diagnostic,,",
            ),
        ),
        (
            "row changed characters pitch (applies_if)",
            "answers lost-head-nail in by pitch <- characters pitch",
            "answers rivet in by pitch <- characters pitch",
            "answers wire-nail in by pitch <- characters pitch",
        ),
    ),
    Planted(
        "a statement of a genus",
        (
            ("statements", "nail,thickness,thin|medium", "nail,thickness,thick|very-thick"),
            ("statements", 'wire-nail,thickness,thin,,,shop-ledger,"label, invented",,\n', ""),
        ),
        (
            "row changed statements nail.thickness.shop-ledger (value)",
            "row gone statements wire-nail.thickness.shop-ledger",
            "cell nail thickness hard moved: thin or medium or thick -> medium or thick or very-thick <- statements nail.thickness.shop-ledger",
            "cell nail thickness typical moved: thin or medium -> thick or very-thick <- statements nail.thickness.shop-ledger",
            "cell wire-nail thickness hard gone: thin or medium -> unknown <- statements wire-nail.thickness.shop-ledger",
            "cell wire-nail thickness typical gone: thin -> unknown <- statements wire-nail.thickness.shop-ledger",
            "answers lost-head-nail out by thickness <- statements nail.thickness.shop-ledger",
            "answers screw-nail in by thickness <- statements nail.thickness.shop-ledger",
            "answers screw-nail out by thickness <- statements nail.thickness.shop-ledger",
            "answers wire-nail out by thickness <- statements nail.thickness.shop-ledger, statements wire-nail.thickness.shop-ledger",
        ),
    ),
)
