-- How do classes compare, when small ones are drawn towards all of their section? Good is a run in time without a critical finding.
-- Shrunk as a beta-binomial whose spread between classes is found by moments (Kleinman 1973, JASA 68, 46-54). It takes runs as
-- independent, which those of one person are not, and classes as dealt by chance, which they seldom are: no league table.
WITH classes AS (
  SELECT section, school, coalesce(class, '') AS class, count(*) AS n,
         CAST(sum(CASE WHEN critical = 0 AND (finished OR limit_ms IS NULL) THEN 1 ELSE 0 END) AS BIGINT) AS k
  FROM runs
  WHERE whole AND NOT drill AND compress = 1
  GROUP BY section, school, coalesce(class, '')
), means AS (
  SELECT section, count(*) AS classes, CAST(sum(n) AS DOUBLE) AS total, CAST(sum(n * n) AS DOUBLE) AS squares,
         CAST(sum(k) AS DOUBLE) / sum(n) AS mean
  FROM classes
  GROUP BY section
), between_classes AS (
  SELECT c.section, sum(c.n * (CAST(c.k AS DOUBLE) / c.n - m.mean) * (CAST(c.k AS DOUBLE) / c.n - m.mean)) AS spread
  FROM classes c JOIN means m ON c.section = m.section
  GROUP BY c.section
), prior AS (
  SELECT m.section, m.mean,
         CASE WHEN m.mean > 0 AND m.mean < 1 AND m.total - m.squares / m.total - (m.classes - 1) > 0
              THEN (b.spread - m.mean * (1 - m.mean) * (m.classes - 1))
                   / (m.mean * (1 - m.mean) * (m.total - m.squares / m.total - (m.classes - 1)))
              ELSE 0 END AS likeness
  FROM means m JOIN between_classes b ON m.section = b.section
)
SELECT c.section, c.school, c.class, c.n AS runs, c.k AS good, CAST(c.k AS DOUBLE) / c.n AS share,
       CASE WHEN p.likeness <= 0 THEN p.mean
            WHEN p.likeness >= 1 THEN CAST(c.k AS DOUBLE) / c.n
            ELSE (c.k + p.mean * (1 - p.likeness) / p.likeness) / (c.n + (1 - p.likeness) / p.likeness) END AS shrunk
FROM classes c JOIN prior p ON c.section = p.section
ORDER BY c.section, c.school, c.class;
