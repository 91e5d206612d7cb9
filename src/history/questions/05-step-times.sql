-- How long does each step take beside its plan, and how often does it take more than half as long again?
SELECT section, step, min(title) AS title, count(*) AS timed,
       CAST(max(plan_ms) AS DOUBLE) / 1000 AS plan_s,
       CAST(sum(took_ms) AS DOUBLE) / count(*) / 1000 AS mean_s,
       CAST(sum(CASE WHEN took_ms > plan_ms THEN 1 ELSE 0 END) AS DOUBLE) / count(*) AS over_plan,
       CAST(sum(CASE WHEN took_ms * 2 > plan_ms * 3 THEN 1 ELSE 0 END) AS DOUBLE) / count(*) AS far_over
FROM steps
WHERE took_ms IS NOT NULL AND plan_ms IS NOT NULL AND whole AND NOT drill AND compress = 1
GROUP BY section, step
ORDER BY section, step;
