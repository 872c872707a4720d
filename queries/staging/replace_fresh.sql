-- Put what the model completed in the place of what the terms left open.
-- reads:  completed
delete from fresh_classifications
where fresh_classifications.claim_no in (select completed.claim_no from completed);

insert into fresh_classifications by name
select * from completed;
