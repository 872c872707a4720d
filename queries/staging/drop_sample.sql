-- Forget a sample, so that it can be drawn anew.
-- reads:  review_samples, review_repeats
-- params: sample (text)
delete from review_samples
where review_samples.sample = $sample;

delete from review_repeats
where review_repeats.sample = $sample;
