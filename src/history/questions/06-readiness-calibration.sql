-- Does readiness keep its word? What was told before a run, by tenths of the chance, beside what then happened; and the Brier score
-- (Brier 1950, Monthly Weather Review 78, 1-3: the mean squared difference, less is better).
WITH told AS (
  SELECT section, least(9, CAST(floor(ready_pct / 10.0) AS INT)) AS tenth, ready_pct, ready_low_pct, ready_high_pct,
         CASE WHEN critical = 0 AND (finished OR limit_ms IS NULL) THEN 100 ELSE 0 END AS happened
  FROM runs
  WHERE ready_pct IS NOT NULL AND whole AND NOT drill AND compress = 1
)
SELECT section, tenth, count(*) AS runs,
       CAST(sum(ready_pct) AS DOUBLE) / count(*) AS told_pct,
       CAST(sum(ready_low_pct) AS DOUBLE) / count(*) AS low_pct,
       CAST(sum(ready_high_pct) AS DOUBLE) / count(*) AS high_pct,
       CAST(sum(happened) AS DOUBLE) / count(*) AS happened_pct,
       CAST(sum((ready_pct - happened) * (ready_pct - happened)) AS DOUBLE) / count(*) / 10000 AS brier
FROM told
GROUP BY section, tenth
ORDER BY section, tenth;
