-- Which steps are left out more in the two weeks up to a person's last run in exam mode than before?
WITH last_exam AS (
  SELECT school, person, section, edition, max(started) AS exam
  FROM runs
  WHERE mode = 'exam' AND whole AND NOT drill AND compress = 1
  GROUP BY school, person, section, edition
), counted AS (
  SELECT s.section, s.step, s.title,
         CASE WHEN s.started > e.exam - INTERVAL '14' DAY THEN 1 ELSE 0 END AS late,
         CASE WHEN s.called OR s.perhaps THEN 0 ELSE 1 END AS left_out
  FROM steps s
  JOIN last_exam e
    ON s.school = e.school AND s.person = e.person AND s.section = e.section AND s.edition = e.edition AND s.started <= e.exam
  WHERE s.needed AND s.whole AND NOT s.drill AND s.compress = 1
), shares AS (
  SELECT section, step, min(title) AS title, CAST(sum(late) AS BIGINT) AS late_runs, CAST(sum(1 - late) AS BIGINT) AS earlier_runs,
         CAST(sum(late * left_out) AS BIGINT) AS late_left_out, CAST(sum((1 - late) * left_out) AS BIGINT) AS earlier_left_out
  FROM counted
  GROUP BY section, step
)
SELECT section, step, title, late_runs, late_left_out, earlier_runs, earlier_left_out,
       CAST(late_left_out AS DOUBLE) / late_runs - CAST(earlier_left_out AS DOUBLE) / earlier_runs AS worse_by
FROM shares
WHERE late_runs > 0 AND earlier_runs > 0
ORDER BY section, worse_by DESC, step;
