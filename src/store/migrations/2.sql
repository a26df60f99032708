-- What was entered beside a result, taken from the result where it is in it; which clip it is of; and a seal over
-- every column, so that a byte that changed on the disk is noticed.
ALTER TABLE session ADD COLUMN clip_sha256 TEXT;
ALTER TABLE session ADD COLUMN operation_date TEXT CHECK (operation_date = strftime('%Y-%m-%d', operation_date));
ALTER TABLE session ADD COLUMN phase TEXT;
ALTER TABLE session ADD COLUMN load_kg REAL;
ALTER TABLE session ADD COLUMN resistance TEXT;
ALTER TABLE session ADD COLUMN pain_limit REAL;
ALTER TABLE session ADD COLUMN pain_before REAL;
ALTER TABLE session ADD COLUMN pain_during REAL;
ALTER TABLE session ADD COLUMN pain_after REAL;
ALTER TABLE session ADD COLUMN effort REAL;
ALTER TABLE session ADD COLUMN remark TEXT;
ALTER TABLE session ADD COLUMN seal TEXT;

UPDATE session SET
  clip_sha256 = review ->> '$.clip.sha256',
  operation_date = review ->> '$.plan.operation_date',
  phase = review ->> '$.plan.phase',
  load_kg = review ->> '$.plan.prescribed.load_kg',
  resistance = review ->> '$.plan.prescribed.resistance',
  pain_limit = review ->> '$.plan.pain_limit',
  pain_before = review ->> '$.reported.pain_before',
  pain_during = review ->> '$.reported.pain_during',
  pain_after = review ->> '$.reported.pain_after',
  effort = review ->> '$.reported.effort';

CREATE INDEX session_by_clip ON session (clip_sha256);
