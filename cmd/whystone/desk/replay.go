package desk

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"whystone/cmd/whystone/users"
	"whystone/engine/picture"
	"whystone/engine/replay"
	"whystone/kb"
)

// replayRoutes judge cases again: those of the casebook, or of an archive that somebody sends.
var replayRoutes = []route{
	{"GET", "/replays", users.Replay, showReplays, "Replay"},
	{"POST", "/replays", users.Replay, startReplay, ""},
	{"GET", "/replays/{replay}", users.Replay, showReplay, ""},
	{"POST", "/replays/{replay}/cancel", users.Replay, cancelReplay, ""},
}

// replaysView is what the page shows on which a replay is started.
type replaysView struct {
	Sent    *replayForm
	Wrong   string
	Drafts  []*kb.Rule
	Past    []pastRules
	Live    string // the digest
	Workers int
	Most    int // MiB of an archive
	At      *replaying
	Before  []*replaying // that ended, the newest first
}

func showReplays(a *asked) (*page, error) { return replaysPage(a, &replayForm{}, "", 0) }

func replaysPage(a *asked, sent *replayForm, wrong string, status int) (*page, error) {
	rs := a.ruleset()
	v := &replaysView{Sent: sent, Wrong: wrong, Drafts: rs.Drafts(), Live: rs.Digest, Workers: replayWorkers(),
		Most: mostArchive >> 20}
	var err error
	if v.Past, err = a.pastRules(); err != nil {
		return nil, err
	}
	for _, r := range slices.Backward(a.desk.replays.all()) {
		if r.At().Ended {
			v.Before = append(v.Before, r)
		} else {
			v.At = r
		}
	}
	return &page{Template: "replays", Title: "Replay", View: v, Status: status}, nil
}

// startReplay starts what was asked for, unless a replay is at work.
func startReplay(a *asked) (*page, error) {
	sent, err := a.replayForm()
	if err != nil {
		return nil, err
	}
	r, err := a.replayOf(sent)
	if says, mistaken := isProblem(err); mistaken {
		return replaysPage(a, sent, says, http.StatusUnprocessableEntity)
	}
	if err != nil {
		return nil, err
	}
	if busy := a.desk.start(r); busy != nil {
		says := fmt.Sprintf("Replay %d, which %s started, is at work. Cancel it, or wait for its end.", busy.Number,
			busy.By)
		return replaysPage(a, sent, says, http.StatusConflict)
	}
	return &page{To: replayAt(r)}, nil
}

func replayAt(r *replaying) string { return "/replays/" + strconv.Itoa(r.Number) }

// replay finds the replay that a path names.
func (a *asked) replay() (*replaying, error) {
	if n, err := strconv.Atoi(a.PathValue("replay")); err == nil {
		if r := a.desk.replays.find(func(r *replaying) bool { return r.Number == n }); r != nil {
			return r, nil
		}
	}
	return nil, &problem{Status: http.StatusNotFound, Says: "There is no such replay.", More: []string{fmt.Sprintf(
		"The last %d are kept for as long as the desk is open. whystone replay writes a report to a file.",
		mostReports)}}
}

func cancelReplay(a *asked) (*page, error) {
	r, err := a.replay()
	if err != nil {
		return nil, err
	}
	r.cancel()
	return &page{To: replayAt(r)}, nil
}

// replayView is what the page of a replay shows.
type replayView struct {
	*replaying
	standing
	Pictures []*picture.Picture // of a report
}

func showReplay(a *asked) (*page, error) {
	r, err := a.replay()
	if err != nil {
		return nil, err
	}
	v := &replayView{replaying: r, standing: r.At()}
	p := &page{Template: "replay", Title: "Replay " + strconv.Itoa(r.Number), View: v}
	if v.Report != nil {
		p.Data = v.Report.Data()
		v.Pictures = append([]*picture.Picture{v.Report.ReliabilityChart()}, v.Report.MonthCharts()...)
	}
	return p, nil
}

// Name is how a page names what a table of the report has: a material by its name, an answer in words.
func (v *replayView) Name(id string) string {
	if m := v.config.Engine.Ruleset.NodeOrWas(id); m != nil {
		return m.Name
	}
	return answerSays(id)
}

// Lists are the report's lists of cases, those that change among them where they are not shown with their chains.
func (v *replayView) Lists() []replay.NamedList {
	out := v.Report.Lists()
	if l := v.Report.Tally.Lists[replay.Changed]; l != nil && l.Count > 0 && len(v.Report.Differences) == 0 {
		first := l.Sample[:min(mostDifferences, len(l.Sample))]
		out = slices.Insert(out, 0, replay.NamedList{Name: "Changed", Count: l.Count, Sample: first})
	}
	return out
}
