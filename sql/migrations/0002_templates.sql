-- SPDX-License-Identifier: MIT
-- What notices say, one text for each kind, the nursery's to edit; and the fact that a notice tells of, so that the same
-- fact gives one notice however often it is looked for.

CREATE TABLE template (
    kind TEXT PRIMARY KEY CHECK (kind IN ('delay', 'short', 'substitute', 'refund', 'cancelled', 'recall')),
    subject TEXT NOT NULL,
    body TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1
) STRICT, WITHOUT ROWID;

ALTER TABLE notice ADD COLUMN fact TEXT;
CREATE UNIQUE INDEX notice_fact ON notice (fact) WHERE fact IS NOT NULL;

INSERT INTO template (kind, subject, body) VALUES
('delay', 'Your order {order} will leave later than we said',
'Dear {customer},

your order {order} was to leave us by {promised}. We are sorry: it will leave later. We now expect to ship it {expected}.
{reason}
You may agree to the new date, or cancel the order and have your money back in full. Please tell us by answering this
message; it costs you nothing.
{silence}

{nursery}
'),
('short', 'Your order {order}: we cannot deliver all of {variety}',
'Dear {customer},

of {variety} you ordered {asked}, and we have {promised} for you. We are short of {quantity}, and no more will come this
season. We are sorry. What you paid for it, {amount} {currency}, goes back to you by {refund_by} at the latest.

If you would rather have another variety, please answer this message.

{nursery}
'),
('substitute', 'Your order {order}: another variety in place of {variety}',
'Dear {customer},

we do not have enough of {variety} this season. As you allowed us when you ordered, we have set aside {quantity} of
{substitute} for you in its place, at no extra cost.

If you would rather not have it, please answer this message before {due}, and we will refund that part instead.

{nursery}
'),
('refund', 'Your order {order}: your refund of {amount} {currency}',
'Dear {customer},

for {quantity} of {variety} that you ordered and {why}, we owe you {amount} {currency}. We send it back the way you paid, by
{refund_by} at the latest.

{nursery}
'),
('cancelled', 'Your order {order} is cancelled',
'Dear {customer},

{what} of your order {order} is cancelled as of {cancelled}. What you paid for it, {amount} {currency}, goes back to you by
{refund_by} at the latest.
{reason}

{nursery}
'),
('recall', 'Please check what you received from order {order}: {variety}',
'Dear {customer},

we sent you {quantity} of {variety} from our lot {lot}, row {row}. We have held that lot back since. The reason: {reason}

Please keep these plants apart from your others, do not pass them on, and answer this message; we will tell you what to do
and make it good. Your local plant health authority has the last word where a disease is suspected.

{nursery}
');
