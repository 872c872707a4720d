-- Remember in an older state the erasures that a newer one knows.
-- reads:  erasures_known, keys_known
-- writes: erasures, erased_keys
insert into erasures by name
select
    known.erasure,
    known.salt,
    known.erased_at,
    known.what,
    known.reason,
    cast(known.proof as json) as proof
from erasures_known as known
where
    known.erasure not in (
        select erasures.erasure
        from erasures
    );

insert into erased_keys by name
select
    known.erasure,
    known.salt,
    known.kind,
    known.digest,
    known.stand_in
from keys_known as known
left join erased_keys as held
    on
        known.salt = held.salt
        and known.kind = held.kind
        and known.digest = held.digest
where held.digest is null;
