package document

import (
	"bytes"
	"html"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"
)

// hostile are texts from logs, or from somebody who wants a page to do more than show them.
var hostile = []string{
	"<script>alert(1)</script>",
	`"><img src=x onerror=alert(1)>`,
	"| <b> |",
	"#1", "# one", "1. one", "12) one", "- one", "+ one", "-", "+", "--", "1.", "2)", "-1 K", "+1 K", "1.5", "- - -", "-\t-", "=", "= = =", "--- | ---", "===", "***", "* one", "> one", "~~one~~", "    four blanks",
	"`one`", "``` one", "[a](b)", "![a](b)", "[a]: b", "a_b_c", "__a__", "a\\b", "a\\", "&amp; &lt; &#60;", "$x$ and $$y$$",
	"http://a.example/b", "HTTPS://a.example", "www.a.example", "WWW.a.example", "<http://a.example>", "</style><p>", "--> ]]> %}",
	"two\nlines", "two\r\n\r\nparagraphs", "\n# heading", "a tab\there", "bell\a and \x1b[2J", "\x00", "€ ° – 日本語", "x  \ny", "| a | b |\n|---|---|", "",
}

// full is a document of every kind of block, each of them full of a text.
func full(text string) Document {
	return Document{
		Headline(text),
		Section{ID: "one", Title: text, Body: Document{
			Paragraph(text), List{text, text},
			Section{Title: text, Body: Document{Section{Title: text, Body: Document{Terms{{text, text}}}}}},
		}},
		Section{Body: Document{Paragraph(text), Lines{Items: []string{text}}}},
		Lines{Head: text, Items: []string{text}},
		Table{
			Caption: text, Legend: text,
			Columns: []Column{{Head: text, Kind: Label}, {Head: "a\nb", Full: text}, {Full: text, Kind: Prose, Later: true}},
			Rows:    []Row{{Cells: []string{text, text, text}}, {Cells: []string{text, text, text}, Strong: true}},
		},
		Figures{{Title: text, Description: text}},
		Notes{{Kind: Warning, Label: "Warning", Text: text, Action: text}, {Kind: Caution, Label: "Take care", Text: text}},
	}
}

// shown is how a text reads once line breaks and control characters are blanks, and
// blanks in a row are one.
func shown(text string) string {
	return strings.Join(strings.Fields(strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 {
			return ' '
		}
		return r
	}, text)), " ")
}

// Whatever a text holds, as HTML it is text: the tags are those of a harmless one.
func TestHTMLShowsTextAsItIs(t *testing.T) {
	tags := func(text string) []string {
		var page strings.Builder
		if err := (Page{Title: text, Body: full(text), Foot: text}).HTML(&page); err != nil {
			t.Fatal(err)
		}
		_, body, _ := strings.Cut(page.String(), "</style>")
		var all []string
		for _, piece := range strings.Split(body, "<")[1:] {
			name, _, _ := strings.Cut(piece, ">")
			name, _, _ = strings.Cut(name, " ")
			all = append(all, name)
		}
		return all
	}
	want := tags("harmless")
	for _, text := range hostile {
		if text == "" {
			continue // parts of a document may be blank, and then have no tags
		}
		if got := tags(text); !slices.Equal(got, want) {
			t.Errorf("%q changes the tags:\n got %v\nwant %v", text, got, want)
		}
	}
}

// A page asks for nothing and runs nothing: no address, no script, no style in a tag.
func TestPageStandsAlone(t *testing.T) {
	var page strings.Builder
	if err := (Page{Title: "A page", Body: full("words")}).HTML(&page); err != nil {
		t.Fatal(err)
	}
	for _, not := range []string{"http:", "https:", "<script", "<link", "@import", "url(", " style=", " src=", " href="} {
		if strings.Contains(page.String(), not) {
			t.Errorf("the page holds %q", not)
		}
	}
	if !strings.Contains(page.String(), Style) {
		t.Error("the page does not hold the style sheet as it is")
	}
}

// A note's link is one in HTML, whatever its words, and nothing elsewhere.
func TestNoteLinksInHTMLAlone(t *testing.T) {
	for _, text := range append(hostile, "javascript:alert(1)", "words") {
		plain := Notes{{Label: "Warning", Text: "it is late"}}
		linked := Notes{{Label: "Warning", Text: "it is late", Link: &Link{Path: "/car?car=" + text, Words: text}}}
		if got := string(linked.html(2)); strings.Count(got, "<a ") != 1 || strings.Count(got, "<")-strings.Count(string(plain.html(2)), "<") != 4 ||
			!strings.Contains(got, `href="/car?car=`) {
			t.Errorf("%q: %s", text, got)
		}
		if linked.markdown(2) != plain.markdown(2) || linked.text(Layout{}) != plain.text(Layout{}) {
			t.Errorf("%q: the link shows outside HTML", text)
		}
	}
}

// Every backslash that escapes is one that CommonMark takes away again: it stands before
// ASCII punctuation, and without it the text is as it was. TestMarkdownEscapesWhatItCan asks
// cmark-gfm what that is.
func TestMarkdownEscapesAreBackslashes(t *testing.T) {
	for _, text := range hostile {
		var b strings.Builder
		escaped := false
		for _, r := range plain(text) {
			switch {
			case escaped && !escapable(r):
				t.Errorf("%q: a backslash before %q", text, r)
			case !escaped && r == '\\':
				escaped = true
				continue
			}
			escaped = false
			b.WriteRune(r)
		}
		if got := b.String(); got != shown(text) {
			t.Errorf("%q is read as %q", text, got)
		}
	}
}

// escapable reports whether r is ASCII punctuation.
func escapable(r rune) bool {
	return r <= unicode.MaxASCII && (unicode.IsPunct(r) || unicode.IsSymbol(r))
}

// TestMarkdownEscapesWhatItCan holds what a backslash may escape against cmark-gfm, the
// reference implementation of GitHub Flavored Markdown.
func TestMarkdownEscapesWhatItCan(t *testing.T) {
	reader := lookUp(t, "cmark-gfm")
	for r := ' ' + 1; r < unicode.MaxASCII; r++ {
		cmd := exec.Command(reader, "--to", "html")
		cmd.Stdin = strings.NewReader("a\\" + string(r) + "b")
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		if kept := strings.Count(string(out), `\`) > strings.Count(string(r), `\`); kept == escapable(r) {
			t.Errorf("\\%c is shown as %s", r, out)
		}
	}
}

// FuzzMarkdown: a reader of Markdown shows a text as it is, in prose, in a list, in a
// heading and in a table. The reader is cmark-gfm, the reference implementation of GitHub
// Flavored Markdown. It makes a link of an e-mail address, which no escape prevents and
// which is text all the same.
func FuzzMarkdown(f *testing.F) {
	reader := lookUp(f, "cmark-gfm")
	for _, text := range hostile {
		f.Add(text)
	}
	link := regexp.MustCompile(`<a href="(mailto|xmpp):[^"]*">|</a>`)
	f.Fuzz(func(t *testing.T, text string) {
		s := shown(text)
		if s == "" {
			return
		}
		doc := Document{
			Paragraph(text), List{text}, Section{Title: text},
			Table{Columns: []Column{{Head: text, Kind: Label}}, Rows: []Row{{Cells: []string{text}}, {Cells: []string{text}, Strong: true}}},
		}
		var markdown bytes.Buffer
		if err := doc.Markdown(&markdown); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(reader, "-t", "html", "--unsafe", "-e", "table", "-e", "autolink", "-e", "strikethrough", "-e", "tasklist")
		cmd.Stdin = &markdown
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		// The escapes and line breaks of the reader itself say nothing.
		got := html.UnescapeString(link.ReplaceAllString(strings.ReplaceAll(string(out), "\n", ""), ""))
		want := "<p>" + s + "</p><ul><li>" + s + "</li></ul><h2>" + s + "</h2>" +
			"<table><thead><tr><th>" + s + "</th></tr></thead><tbody><tr><td>" + s + "</td></tr>" +
			"<tr><td><strong>" + s + "</strong></td></tr></tbody></table>"
		if got != want {
			t.Errorf("%q:\n got %s\nwant %s", text, got, want)
		}
	})
}

// lookUp finds a program that a test asks, or skips the test. It fails where everything has to
// be checked.
func lookUp(t testing.TB, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatalf("CI has to install %s: without it nobody confirms what its readers see", program)
	}
	if err != nil {
		t.Skipf("%s is not on the path", program)
	}
	return path
}

// One blank line separates blocks; what a section holds stands right below its title.
func TestText(t *testing.T) {
	doc := Document{
		Headline("Go down."),
		Section{Title: "Why", Body: Document{List{"It is hot.", "It is slow."}}},
		Section{Title: "Candidates", Body: Document{Table{
			Caption: "not in text", Legend: "Chance: of it.",
			Columns: []Column{{Head: "\npinion"}, {Head: "rollout\nmm", Full: "not in text"}, {Kind: Label}},
			Rows:    []Row{{Cells: []string{"9", "30.1", "pick"}, Strong: true}, {Cells: []string{"10", "33.45", ""}}},
		}}},
		Section{Body: Document{Paragraph("Together."), Paragraph("Still together.")}},
		Section{Title: "Outer", Body: Document{Section{Title: "Inner", Body: Document{Terms{{"Rollout", "a distance"}}}}}},
		Lines{Head: "log.csv", Items: []string{"log.csv:2: bad"}},
		Notes{{Kind: Warning, Label: "Warning", Text: "it is late", Action: "go home"}, {Kind: Caution, Label: "Take care", Text: "it is dark"}},
	}
	const want = `Go down.

Why:
  - It is hot.
  - It is slow.

Candidates:
          rollout
  pinion       mm
       9     30.1  pick
      10    33.45
  Chance: of it.

Together.
Still together.

Outer:

Inner:
  - Rollout: a distance

log.csv
  log.csv:2: bad

warning: it is late. Go home.
Take care: it is dark.
`
	var got strings.Builder
	if err := doc.Text(&got, Layout{}); err != nil {
		t.Fatal(err)
	}
	if got.String() != want {
		t.Errorf("got:\n%s\nwant:\n%s", got.String(), want)
	}
	var bold strings.Builder
	if err := doc.Text(&bold, Layout{Bold: true}); err != nil {
		t.Fatal(err)
	}
	if strings.NewReplacer("\x1b[1m", "", "\x1b[0m", "").Replace(bold.String()) != want || strings.Count(bold.String(), "\x1b[1m") != 4 {
		t.Errorf("bold changes more than the weight of the headline and the strong row:\n%q", bold.String())
	}
}

// Whatever a text holds, no control character but a line break reaches the terminal.
func TestTextIsHarmless(t *testing.T) {
	for _, text := range hostile {
		var got strings.Builder
		if err := full(text).Text(&got, Layout{}); err != nil {
			t.Fatal(err)
		}
		if i := strings.IndexFunc(got.String(), func(r rune) bool { return r != '\n' && unicode.IsControl(r) }); i >= 0 {
			t.Errorf("%q: text holds the control character %q", text, got.String()[i])
		}
	}
}

// Prose keeps to its width where words allow it, loses none of them, and keeps a number with its
// unit.
func TestParagraph(t *testing.T) {
	const prose = "the motor peaks between 65 and 79 °C in 80 % of runs, on a tire of 118 mm"
	for width := 20; width < 90; width++ {
		got := Layout{Width: width}.paragraph("  - ", prose)
		for line := range strings.Lines(got) {
			line = strings.TrimSuffix(line, "\n")
			if n := len([]rune(line)); n > width {
				t.Errorf("width %d: %q is %d wide", width, line, n)
			}
			if first, _, _ := strings.Cut(strings.TrimSpace(line), " "); slices.Contains([]string{"°C", "%", "mm"}, first) {
				t.Errorf("width %d: %q begins with a unit", width, line)
			}
		}
		if words := strings.Join(strings.Fields(got), " "); words != "- "+prose {
			t.Errorf("width %d: %q", width, words)
		}
	}
}
