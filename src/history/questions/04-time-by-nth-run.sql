-- The time curve: how long do people take in their first run of a section, their second, and so on? Told afterwards has no time.
WITH ordered AS (
  SELECT section, used_ms, finished,
         row_number() OVER (PARTITION BY school, person, section, edition ORDER BY started, run) AS nth
  FROM runs
  WHERE whole AND NOT drill AND compress = 1 AND NOT told AND used_ms IS NOT NULL
)
SELECT section, nth, count(*) AS runs,
       CAST(sum(used_ms) AS DOUBLE) / count(*) / 1000 AS mean_s,
       CAST(median(used_ms) AS DOUBLE) / 1000 AS median_s,
       CAST(sum(CASE WHEN finished THEN 1 ELSE 0 END) AS DOUBLE) / count(*) AS finished
FROM ordered
WHERE nth <= 60
GROUP BY section, nth
HAVING count(*) >= 5
ORDER BY section, nth;
