-- How do omissions in one section change from month to month? Only the folders of that section and those months are opened:
-- change both to yours.
SELECT month, critical, count(*) AS due,
       CAST(sum(CASE WHEN called OR perhaps THEN 0 ELSE 1 END) AS BIGINT) AS left_out,
       CAST(sum(CASE WHEN called OR perhaps THEN 0 ELSE 1 END) AS DOUBLE) / count(*) AS share
FROM steps
WHERE section = 'basic-facial' AND month >= '2026-04' AND month <= '2026-05'
  AND needed AND whole AND NOT drill AND compress = 1
GROUP BY month, critical
ORDER BY month, critical;
