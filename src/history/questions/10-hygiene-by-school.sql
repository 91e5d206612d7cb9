-- Hand hygiene, school by school and month by month: callouts in a run, and how much of what was due was left out.
WITH called AS (
  SELECT school, month, count(*) AS runs, CAST(sum(hygiene) AS BIGINT) AS callouts, CAST(sum(dropped) AS BIGINT) AS dropped
  FROM runs
  WHERE whole AND NOT drill AND compress = 1
  GROUP BY school, month
), due AS (
  SELECT school, month, count(*) AS due, CAST(sum(CASE WHEN called OR perhaps THEN 0 ELSE 1 END) AS BIGINT) AS left_out
  FROM steps
  WHERE hygiene AND needed AND whole AND NOT drill AND compress = 1
  GROUP BY school, month
)
SELECT c.school, c.month, c.runs, CAST(c.callouts AS DOUBLE) / c.runs AS callouts_a_run, c.dropped, d.due, d.left_out,
       CAST(d.left_out AS DOUBLE) / d.due AS share
FROM called c JOIN due d ON c.school = d.school AND c.month = d.month
ORDER BY c.school, c.month;
