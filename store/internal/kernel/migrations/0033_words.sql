-- +goose Up
-- The steps of reminding and the log of changes have the words of the pages.
UPDATE outbox SET key = substr(key, 1, length(key) - length(step)) || CASE step WHEN 'invitation' THEN 'first-reminder'
	WHEN 'nudge' THEN 'second-reminder' WHEN 'last-call' THEN 'final-reminder' ELSE 'overdue-notice' END
	WHERE step IN ('invitation', 'nudge', 'last-call', 'overdue') AND key LIKE '%|' || step;
UPDATE outbox SET step = CASE step WHEN 'invitation' THEN 'first-reminder' WHEN 'nudge' THEN 'second-reminder'
	WHEN 'last-call' THEN 'final-reminder' ELSE 'overdue-notice' END WHERE step IN ('invitation', 'nudge', 'last-call', 'overdue');
UPDATE heard SET step = CASE step WHEN 'invitation' THEN 'first-reminder' WHEN 'nudge' THEN 'second-reminder'
	WHEN 'last-call' THEN 'final-reminder' ELSE 'overdue-notice' END WHERE step IN ('invitation', 'nudge', 'last-call', 'overdue');
UPDATE audit SET what = CASE what WHEN 'told' THEN 'reminded' WHEN 'mail came back' THEN 'email came back' WHEN 'intake' THEN 'import'
	WHEN 'answer' THEN 'reply' WHEN 'take back an answer' THEN 'undo a reply' WHEN 'see to an answer' THEN 'handle a reply'
	WHEN 'choose mails' THEN 'choose emails' WHEN 'log a call' THEN 'call note' WHEN 'put on the phone round' THEN 'put on the call list'
	WHEN 'send a letter again' THEN 'send an email again' ELSE 'cancel a booking' END
	WHERE what IN ('told', 'mail came back', 'intake', 'answer', 'take back an answer', 'see to an answer', 'choose mails', 'log a call',
		'put on the phone round', 'send a letter again', 'unbook');

-- +goose Down
SELECT 1;
