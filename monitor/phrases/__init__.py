"""Words for people: what judgements are called, and the sentences that say their facts."""
