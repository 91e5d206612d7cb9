-- Which needed steps are left out, and how often? Counted are whole runs of all steps, on the real clock.
-- A step that was perhaps called is none that was left out.
SELECT section, step, min(title) AS title, count(*) AS runs,
       CAST(sum(CASE WHEN called OR perhaps THEN 0 ELSE 1 END) AS BIGINT) AS left_out,
       CAST(sum(CASE WHEN called OR perhaps THEN 0 ELSE 1 END) AS DOUBLE) / count(*) AS share
FROM steps
WHERE needed AND whole AND NOT drill AND compress = 1
GROUP BY section, step
ORDER BY section, share DESC, step;
