package main

import (
	"context"

	"whystone/engine"
	"whystone/engine/replay"
	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/load"
)

// other finds the ruleset that is compared, if one is.
func (s *session) other(ctx context.Context, r *replaying, c *replay.Config) error {
	switch {
	case r.drafts && (len(r.against) > 0 || r.back):
		return usageError("--drafts compares the ruleset with itself, its drafts active; it goes with neither " +
			"--against nor --against-is-old")
	case r.drafts:
		return tryDrafts(c)
	case len(r.against) == 0:
		return nil
	}
	other, _, err := s.rulesetOf(ctx, r.against)
	if err != nil {
		return err
	}
	c.Against = engine.Prepare(other)
	if r.back {
		c.Engine, c.Against = c.Against, c.Engine
	}
	return nil
}

// tryDrafts compares the ruleset with the same whose drafts are active.
func tryDrafts(c *replay.Config) error {
	c.Drafts = english.Each(c.Engine.Ruleset.Drafts(), func(d *kb.Rule) string { return d.ID })
	if c.Drafts == nil {
		return usageError("--drafts: the ruleset has no rule in draft, so there is nothing to compare")
	}
	active, found := load.WithDrafts(c.Engine.Ruleset)
	if active == nil {
		return &ended{status: unusable, says: "the drafts can't be made active", list: found}
	}
	c.Against = engine.Prepare(active)
	return nil
}
