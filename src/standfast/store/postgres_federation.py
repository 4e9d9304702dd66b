"""What the role of a federation may ask of a PostgreSQL database: sums over schools that agreed.

It may read no table.  Each answer is a function that runs as the owner (SECURITY DEFINER), goes
from school to school under the same row-level security as everybody, looks only at those whose own
book says that it shares this, and gives sums in which nobody is named.

What leaves one school is safe by itself, since whoever knows her own school's counts can subtract
them.  A group of fewer than `SMALLEST` is not told.  No two groups overlap, and a group is told in
parts only where each part is empty or large enough, so that nothing small is left over between
them.  Marks go in lots of whole months, each of enough candidates, and all is as of the first day
of a month: two answers differ by a lot, or by what a month changed.  An entry that is made late,
about months that are over, can be told from answers before and after it.
"""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy import Connection

from standfast.model.federation import SMALLEST
from standfast.store.postgres_tables import SCHOOL, let_in, make_function


class Asked(NamedTuple):
    """A function; `open` to the role of a federation, else for the others here alone."""

    name: str
    takes: str
    gives: str
    language: str
    body: str
    open: bool = False


# No function may be made with a setting of ours (only a superuser's could), so each sets it and
# puts it back as it was.
_WAS = f"was text := coalesce(current_setting('{SCHOOL}', true), '');"
_BE = f"PERFORM set_config('{SCHOOL}', whose, true);"
_BACK = f"PERFORM set_config('{SCHOOL}', was, true);"
_COUNTS = "rubric text, what text, quarter text, awards bigint"
_GIVEN = "rubric text, kind text, criterion text, given text, subjects bigint"
_SUMS = (
    "rubric text, kind text, criterion text, lessons numeric, pairs numeric, alike numeric,"
    " pairs_squared numeric, pairs_alike numeric, alike_squared numeric"
)
_LOTS = "rubric text, after text, until text"
_SUMS_OF_LOTS = f"after text, until text, {_SUMS}"

_FIRST_OF_MONTH = "SELECT substr(standfast_today(), 1, 8) || '01'"

_LATER = 4
"""The part of what is due after this quarter and the three that follow."""


def _quarters(day: str) -> str:
    """Quarters of the calendar from the beginning of the count of years to a day as text."""
    return f"(substr({day}, 1, 4)::integer * 4 + (substr({day}, 6, 2)::integer - 1) / 3)"


_STANDING = """WITH standing AS (
  SELECT a.*, coalesce(a.refresher_due, a.last_day) AS due,
    CASE WHEN a.refresher_due IS NULL THEN a.last_day
      ELSE coalesce(a.grace_until, a.refresher_due) END AS counts_until,
    coalesce((SELECT r.kind FROM rulings r WHERE r.award = a.id AND r.day <= today
      AND r.kind IN ('suspended', 'reinstated', 'withdrawn')
      ORDER BY r.day DESC, r.seq DESC LIMIT 1), 'reinstated') AS ruled
  FROM awards a
  WHERE a.superseded_by IS NULL AND a.first_day <= today
    AND coalesce(a.renewed_on, 'never') > today
)"""
_COUNTING = """s.ruled = 'reinstated' AND s.counts_until >= today
  AND NOT EXISTS (SELECT FROM unnest(string_to_array(btrim(s.documents), '  ')) AS needs(one)
    WHERE NOT EXISTS (SELECT FROM documents d WHERE d.person = s.candidate
      AND d.kind = needs.one AND d.issued <= today AND d.last_day >= today))
  AND NOT EXISTS (SELECT FROM texts t WHERE t.kind = 'rubric' AND t.id = s.rubric
    AND t.version > s.version AND t.honoured_until < today
    AND NOT EXISTS (SELECT FROM texts n WHERE n.kind = t.kind AND n.id = t.id
      AND n.version = t.version AND n.seq > t.seq))"""

# An award in grace is due in the quarter of today.
_AWARDS_OF = f"""#variable_conflict use_column
DECLARE {_WAS} today text := standfast_day();
BEGIN {_BE}
RETURN QUERY {_STANDING},
counting AS (
  SELECT s.rubric,
    least({_LATER}, {_quarters("greatest(s.due, today)")} - {_quarters("today")}) AS part
  FROM standing s WHERE {_COUNTING}
),
parts AS (
  SELECT c.rubric, p.part, count(*) FILTER (WHERE c.part = p.part) AS awards
  FROM counting c CROSS JOIN generate_series(0, {_LATER}) AS p(part) GROUP BY 1, 2
)
SELECT c.rubric, 'counting', NULL, count(*) FROM counting c GROUP BY 1
  HAVING count(*) >= {SMALLEST}
UNION ALL
SELECT s.rubric, 'lapsed', NULL, count(*) FROM standing s
  WHERE s.ruled <> 'withdrawn' AND s.counts_until < today AND s.mendable_until >= today
  GROUP BY 1 HAVING count(*) >= {SMALLEST}
UNION ALL
SELECT p.rubric, CASE WHEN p.part = {_LATER} THEN 'later' ELSE 'due' END,
  CASE WHEN p.part < {_LATER} THEN to_char(
    today::date + p.part * interval '3 months', 'YYYY"Q"Q') END,
  p.awards
  FROM parts p WHERE NOT EXISTS (SELECT FROM parts small WHERE small.rubric = p.rubric
    AND small.awards BETWEEN 1 AND {SMALLEST - 1});
{_BACK}
END"""

# Whole months that are over, from one in which enough candidates were seen twice to the next.
_LOTS_OF = f"""#variable_conflict use_column
DECLARE {_WAS} this text := substr(standfast_day(), 1, 7); one record;
  seen text[]; last text; began text;
BEGIN {_BE}
FOR one IN
  SELECT l.rubric, l.month, array_agg(DISTINCT l.candidate) AS candidates FROM (
    SELECT s.rubric, substr(min(s.day), 1, 7) AS month, min(s.candidate) AS candidate
    FROM sheets s WHERE s.superseded_by IS NULL
    GROUP BY s.rubric, s.practical HAVING count(*) > 1
  ) l WHERE l.month < this GROUP BY 1, 2 ORDER BY 1, 2
LOOP
  IF last IS DISTINCT FROM one.rubric THEN
    last := one.rubric; seen := '{{}}'; began := '';
  END IF;
  seen := ARRAY(SELECT unnest(seen) UNION SELECT unnest(one.candidates));
  IF cardinality(seen) >= {SMALLEST} THEN
    RETURN QUERY SELECT one.rubric::text, began, one.month;
    seen := '{{}}'; began := one.month;
  END IF;
END LOOP;
{_BACK}
END"""

_SUMS_OF = f"""#variable_conflict use_column
DECLARE {_WAS}
BEGIN {_BE}
RETURN QUERY SELECT o.after, o.until, l.rubric, l.kind, l.criterion, sum(l.lessons), sum(l.pairs),
  sum(l.alike), sum(l.pairs_squared), sum(l.pairs_alike), sum(l.alike_squared)
FROM standfast_lots_of(whose) o JOIN lesson_sums l
  ON l.rubric = o.rubric AND l.month > o.after AND l.month <= o.until
GROUP BY 1, 2, 3, 4, 5 HAVING sum(l.lessons) >= {SMALLEST};
{_BACK}
END"""

_GIVEN_OF = f"""#variable_conflict use_column
DECLARE {_WAS}
BEGIN {_BE}
RETURN QUERY SELECT t.rubric, t.kind, t.criterion, t.given, sum(t.subjects)
FROM standfast_sums_of(whose) l JOIN tallies t USING (rubric, kind, criterion)
WHERE t.month > l.after AND t.month <= l.until GROUP BY 1, 2, 3, 4;
{_BACK}
END"""

_TODAY = "SELECT to_char(CURRENT_TIMESTAMP AT TIME ZONE 'UTC', 'YYYY-MM-DD')"  # of no session

_SHARES = f"""DECLARE {_WAS} whose text;
BEGIN
FOR whose IN SELECT k.school FROM keepers k WHERE k.role = CURRENT_USER ORDER BY 1 LOOP
  {_BE}
  IF EXISTS (SELECT FROM shared s WHERE s.what = wanted AND s.agreed = 1) THEN
    RETURN NEXT whose;
  END IF;
END LOOP;
{_BACK}
END"""

_SCHOOLS = """SELECT s, 'awards' FROM standfast_shares('awards') s
UNION ALL SELECT s, 'agreement' FROM standfast_shares('agreement') s"""
_AWARDS = """SELECT a.rubric, a.what, a.quarter, sum(a.awards)::bigint, count(*)
FROM standfast_shares('awards') s CROSS JOIN LATERAL standfast_awards_of(s) a GROUP BY 1, 2, 3"""
_ALL_GIVEN = """SELECT g.rubric, g.kind, g.criterion, g.given, sum(g.subjects)::bigint
FROM standfast_shares('agreement') s CROSS JOIN LATERAL standfast_given_of(s) g
GROUP BY 1, 2, 3, 4"""
_ALL_SUMS = """SELECT l.rubric, l.kind, l.criterion, sum(l.lessons), sum(l.pairs), sum(l.alike),
  sum(l.pairs_squared), sum(l.pairs_alike), sum(l.alike_squared), count(DISTINCT s)
FROM standfast_shares('agreement') s CROSS JOIN LATERAL standfast_sums_of(s) l GROUP BY 1, 2, 3"""

ASKED = (
    Asked("standfast_today", "", "text", "sql", _TODAY),
    Asked("standfast_day", "", "text", "sql", _FIRST_OF_MONTH),
    Asked("standfast_shares", "wanted text", "SETOF text", "plpgsql", _SHARES),
    Asked("standfast_awards_of", "whose text", f"TABLE({_COUNTS})", "plpgsql", _AWARDS_OF),
    Asked("standfast_lots_of", "whose text", f"TABLE({_LOTS})", "plpgsql", _LOTS_OF),
    Asked("standfast_sums_of", "whose text", f"TABLE({_SUMS_OF_LOTS})", "plpgsql", _SUMS_OF),
    Asked("standfast_given_of", "whose text", f"TABLE({_GIVEN})", "plpgsql", _GIVEN_OF),
    Asked("federation_day", "", "text", "sql", "SELECT standfast_day()", open=True),
    Asked(
        *("federation_schools", "", "TABLE(school text, what text)", "sql", _SCHOOLS),
        open=True,
    ),
    Asked(
        *("federation_awards", "", f"TABLE({_COUNTS}, schools bigint)", "sql", _AWARDS),
        open=True,
    ),
    Asked("federation_given", "", f"TABLE({_GIVEN})", "sql", _ALL_GIVEN, open=True),
    Asked(
        *("federation_sums", "", f"TABLE({_SUMS}, schools bigint)", "sql", _ALL_SUMS),
        open=True,
    ),
)
"""In the order in which they can be made."""


def make_functions(conn: Connection) -> None:
    """All of them as they are today, for nobody but the owner and whoever was let in before."""
    for one in ASKED:
        head = f"{one.name}({one.takes}) RETURNS {one.gives} LANGUAGE {one.language}"
        if not one.open:
            # What it gave may have been of another shape, and it has no grants to lose.
            conn.exec_driver_sql(f"DROP FUNCTION IF EXISTS {_called(one)}")
        make_function(conn, f"{head} SECURITY DEFINER", one.body)
        conn.exec_driver_sql(f"REVOKE ALL ON FUNCTION {_called(one)} FROM PUBLIC")


def _called(one: Asked) -> str:
    kinds = ", ".join(part.split()[-1] for part in one.takes.split(", ") if part)
    return f"{one.name}({kinds})"


def let_ask(conn: Connection, role: str) -> None:
    """Lets that role ask what is open to a federation."""
    quoted = let_in(conn, role)
    for one in ASKED:
        if one.open:
            conn.exec_driver_sql(f"GRANT EXECUTE ON FUNCTION {_called(one)} TO {quoted}")


def let_ask_no_more(conn: Connection, role: str) -> None:
    """Takes back what `let_ask` gave."""
    quoted = conn.dialect.identifier_preparer.quote(role)
    for one in ASKED:
        if one.open:
            conn.exec_driver_sql(f"REVOKE EXECUTE ON FUNCTION {_called(one)} FROM {quoted}")
