-- Who needs help? The last five runs of each person in each section, those with the most critical findings first.
WITH ordered AS (
  SELECT school, class, section, person, started, critical, findings, finished, limit_ms,
         row_number() OVER (PARTITION BY school, person, section ORDER BY started DESC, run DESC) AS back
  FROM runs
  WHERE whole AND NOT drill AND compress = 1
)
SELECT school, min(class) AS class, section, person, count(*) AS runs, CAST(sum(critical) AS BIGINT) AS critical,
       CAST(sum(findings) AS BIGINT) AS findings,
       CAST(sum(CASE WHEN finished OR limit_ms IS NULL THEN 0 ELSE 1 END) AS BIGINT) AS late
FROM ordered
WHERE back <= 5
GROUP BY school, section, person
ORDER BY critical DESC, late DESC, findings DESC, school, section, person
LIMIT 100;
