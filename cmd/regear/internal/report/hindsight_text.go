package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"

	"regear/analyze"
)

// HindsightText writes how a car's forecasts would have fared: the verdict of each
// part first, then the stated chances, then every forecast beside its reading.
func HindsightText(w io.Writer, h *analyze.Hindsight, s Style) error {
	t := hindsightText{h, s}
	var b strings.Builder
	for _, p := range h.Parts {
		b.WriteString(t.verdict(p))
	}
	b.WriteString("\n" + t.chances())
	for _, p := range h.Parts {
		b.WriteString("\n" + t.replays(p))
	}
	b.WriteString("\n" + t.remarks())
	_, err := io.WriteString(w, b.String())
	return err
}

// hindsightText words the replay of one car in one style.
type hindsightText struct {
	*analyze.Hindsight
	Style
}

var trustWords = map[analyze.Trust]string{
	analyze.TooFewReplays: "too few to tell whether the forecasts can be trusted on this car yet; go on logging",
	analyze.Doubtful:      "so few are hardly bad luck: don't trust the forecasts on this car yet, keep a margin, and look at the misses below for what they have in common",
	analyze.Earned:        "as often as promised or more: the forecasts have earned trust on this car",
}

// verdict says in one paragraph whether a part's forecasts have earned trust.
func (t hindsightText) verdict(p analyze.PartHindsight) string {
	n := len(p.Replays)
	return t.paragraph("", fmt.Sprintf("%s: the %s range held %d of %s; %s. Typically %s off; on average the reading lay %s.",
		capital(p.Part.Word()), share(analyze.HindsightLevel), p.Held, count(n, "time"), trustWords[p.Trust],
		t.Units.rise(p.TypicalMiss), t.bias(p)))
}

// bias says where readings lay against the middle of the forecasts.
func (t hindsightText) bias(p analyze.PartHindsight) string {
	size := t.Units.degreesOf(p.MeanMiss)
	switch {
	case math.Abs(size) < 0.5:
		return "on the forecast"
	case size > 0:
		return fixed(size, 1) + " " + t.Units.degree() + " above the forecast"
	default:
		return fixed(-size, 1) + " " + t.Units.degree() + " below the forecast"
	}
}

// chances sets what was stated beside what happened.
func (t hindsightText) chances() string {
	if len(t.Reliability) == 0 {
		return "Stated chances: no part has a limit to be judged by.\n"
	}
	header := table.Row{"stated chance\nto stay under", "forecasts\n", "stated\non average", "stayed\nunder"}
	var rows []table.Row
	for _, r := range t.Reliability {
		rows = append(rows, table.Row{
			share(r.Low) + " to " + share(r.High), strconv.Itoa(r.N), chance(r.Stated), share(r.Happened),
		})
	}
	return "Stated chances, all parts together:\n" + t.table(header, rows)
}

// replays is the table of a part's forecasts.
func (t hindsightText) replays(p analyze.PartHindsight) string {
	unit := t.Units.degree()
	header := table.Row{"run\n", "known\nruns", "forecast\n80 %, " + unit, "middle\n" + unit, "read\n" + unit, "off\n" + unit, ""}
	var rows []table.Row
	for _, r := range p.Replays {
		mark := ""
		if !r.Held {
			mark = "missed"
		}
		low, high := whole(t.Units.degrees(r.Low)), whole(t.Units.degrees(r.High))
		rows = append(rows, table.Row{
			r.Position.String(), strconv.Itoa(r.Before), low + "–" + high, whole(t.Units.degrees(r.Middle)),
			t.Units.givenNumber(r.Peak), signed(t.Units.degreesOf(r.Miss())), mark,
		})
	}
	return capital(p.Part.Word()) + ":\n" + t.table(header, rows)
}

// signed writes a whole number with its sign.
func signed(x float64) string {
	if math.Round(x) > 0 {
		return "+" + whole(x)
	}
	return whole(x)
}

// remarks says what the replay is and what it left out.
func (t hindsightText) remarks() string {
	prose := "Each run is foreseen from the earlier ones alone, under the conditions in which it was driven and the limits of today."
	if t.HeatStops > 0 {
		prose += fmt.Sprintf(" %s cut short by heat can't be judged and %s not counted.",
			count(t.HeatStops, "reading"), choose(t.HeatStops, "is", "are"))
	}
	if t.Unreplayed > 0 {
		prose += fmt.Sprintf(" Only the latest %d runs are replayed; %s before them only inform.",
			analyze.MostReplayed, count(t.Unreplayed, "run"))
	}
	return t.paragraph("", prose)
}
