-- How often is each criterion of the board's sheet claimed, school by school? What can't be heard, and what a run cut short never came
-- to, is left out of the shares.
SELECT section, number, school, min(text) AS text, count(*) AS judged,
       CAST(sum(CASE WHEN claim = 'claimed' THEN 1 ELSE 0 END) AS BIGINT) AS claimed,
       CAST(sum(CASE WHEN claim = 'contradicted' THEN 1 ELSE 0 END) AS BIGINT) AS contradicted,
       CAST(sum(CASE WHEN claim = 'claimed' THEN 1 ELSE 0 END) AS DOUBLE) / count(*) AS share
FROM criteria
WHERE claim IN ('claimed', 'not_claimed', 'contradicted') AND whole AND NOT drill AND compress = 1
GROUP BY section, number, school
ORDER BY section, number, school;
