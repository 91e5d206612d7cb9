-- What does a break cost? Findings by the time since the person's last run of the section.
WITH ordered AS (
  SELECT started, findings, critical, finished,
         lag(started) OVER (PARTITION BY school, person, section, edition ORDER BY started, run) AS before
  FROM runs
  WHERE whole AND NOT drill AND compress = 1
), breaks AS (
  SELECT findings, critical, finished,
         CASE WHEN before IS NULL THEN '0 the first'
              WHEN started < before + INTERVAL '2' DAY THEN '1 under two days'
              WHEN started < before + INTERVAL '7' DAY THEN '2 under a week'
              WHEN started < before + INTERVAL '28' DAY THEN '3 under four weeks'
              ELSE '4 four weeks or more' END AS since
  FROM ordered
)
SELECT since, count(*) AS runs, CAST(sum(findings) AS DOUBLE) / count(*) AS findings,
       CAST(sum(CASE WHEN critical > 0 THEN 1 ELSE 0 END) AS DOUBLE) / count(*) AS with_critical,
       CAST(sum(CASE WHEN finished THEN 1 ELSE 0 END) AS DOUBLE) / count(*) AS finished
FROM breaks
GROUP BY since
ORDER BY since;
