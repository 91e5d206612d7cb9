-- What becomes of runs as callouts fade: everything called, hand hygiene and labels only, or nothing until afterwards?
SELECT replace(replace(section, '-hygiene', ''), '-silent', '') AS of_section, fade, count(*) AS runs,
       CAST(sum(findings) AS DOUBLE) / count(*) AS findings,
       CAST(sum(critical) AS DOUBLE) / count(*) AS critical,
       CAST(sum(CASE WHEN findings = 0 THEN 1 ELSE 0 END) AS DOUBLE) / count(*) AS spotless,
       CAST(sum(CASE WHEN finished THEN 1 ELSE 0 END) AS DOUBLE) / count(*) AS finished
FROM runs
WHERE whole AND NOT drill AND compress = 1
GROUP BY replace(replace(section, '-hygiene', ''), '-silent', ''), fade
ORDER BY of_section, fade;
