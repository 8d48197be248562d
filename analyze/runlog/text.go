package runlog

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"regear/analyze/run"
)

// input is a text as UTF-8 with one kind of line end, and what it was before.
type input struct {
	io.Reader        // all of it, the window too
	window    string // its first part, to find the dialect in

	bom     bool
	utf16   string // the encoding's name, "" if it is not UTF-16
	guessed guess
	lineEnd string
}

// windowBytes is how much of a file is looked at before it is read.
const windowBytes = 64 << 10

// openText finds the encoding and the line ends of r, and refuses what is not text.
func openText(name string, r io.Reader, limit int64) (*input, error) {
	if isDirectory(r) {
		return nil, fileProblem(name, "is a directory", "name a file in it")
	}
	if limit <= 0 {
		limit = defaultMaxBytes
	}
	raw := bufio.NewReaderSize(&cappedReader{r: r, left: limit, limit: limit}, windowBytes)
	start, err := raw.Peek(windowBytes)
	if err != nil && err != io.EOF {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if what, do := notText(start); what != "" {
		return nil, fileProblem(name, what, do)
	}
	in := &input{}
	decoded := bufio.NewReaderSize(in.decode(raw, start), windowBytes)
	window, err := decoded.Peek(windowBytes)
	if err != nil && err != io.EOF {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	in.Reader, in.window, in.lineEnd = decoded, string(window), lineEnd(window)
	if in.lineEnd == "CR" {
		in.Reader, in.window = crReader{decoded}, strings.ReplaceAll(in.window, "\r", "\n")
	}
	return in, nil
}

// encoding names the encoding; it is known for good only when all has been read.
func (in *input) encoding() string {
	switch {
	case in.utf16 != "":
		return in.utf16
	case in.guessed.legacy != nil:
		return "Windows-1252"
	}
	return "UTF-8"
}

// decode strips a byte order mark and returns raw, which begins with start, as UTF-8.
func (in *input) decode(raw *bufio.Reader, start []byte) io.Reader {
	utf16 := func(name string, order unicode.Endianness) io.Reader {
		in.bom, in.utf16 = true, name
		return transform.NewReader(raw, unicode.UTF16(order, unicode.ExpectBOM).NewDecoder())
	}
	mark := []byte("\uFEFF")
	switch {
	case bytes.HasPrefix(start, []byte{0xFF, 0xFE}):
		return utf16("UTF-16 little-endian", unicode.LittleEndian)
	case bytes.HasPrefix(start, []byte{0xFE, 0xFF}):
		return utf16("UTF-16 big-endian", unicode.BigEndian)
	case bytes.HasPrefix(start, mark):
		in.bom = true
		raw.Discard(len(mark)) // it was peeked at, so this can't fail
		return raw
	}
	return transform.NewReader(raw, &in.guessed)
}

func isDirectory(r io.Reader) bool {
	file, ok := r.(interface{ Stat() (fs.FileInfo, error) })
	if !ok {
		return false
	}
	info, err := file.Stat()
	return err == nil && info.IsDir()
}

func fileProblem(name, what, do string) run.Problem {
	return run.Problem{Position: run.Position{File: name}, What: what, Do: do}
}

const (
	saveAsCSV  = "open it and save the sheet as CSV"
	nameTheLog = "name the log itself, a CSV file"
)

// signatures are the first bytes of the files that are most often taken for a
// CSV file. The tests hold those that net/http knows by content (WHATWG MIME Sniffing)
// against it; rich text and the old kind of .xls are from memory.
var signatures = []struct{ start, kind, do string }{
	{"\x89PNG\r\n\x1a\n", "a PNG picture", nameTheLog},
	{"\xff\xd8\xff", "a JPEG picture", nameTheLog},
	{"GIF8", "a GIF picture", nameTheLog},
	{"%PDF-", "a PDF document", nameTheLog},
	{"PK\x03\x04", "a zip archive, as an .xlsx or .ods sheet is", saveAsCSV},
	{"PK\x05\x06", "an empty zip archive", nameTheLog},
	{"\x1f\x8b", "a gzip archive", "unpack it first"},
	{"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an .xls sheet of the old kind", saveAsCSV},
	{"{\\rtf", "a rich text document", nameTheLog},
	{"<!doctype html", "a web page", saveAsCSV},
	{"<!DOCTYPE html", "a web page", saveAsCSV},
	{"<html", "a web page", saveAsCSV},
	{"<?xml", "an XML document", saveAsCSV},
	{"\xff\xfe\x00\x00", "UTF-32 text", "save it as UTF-8, which spreadsheets call CSV UTF-8"},
}

// notText returns why a file that begins with start can't be a CSV text and what
// to do, or "".
func notText(start []byte) (what, do string) {
	for _, s := range signatures {
		if bytes.HasPrefix(start, []byte(s.start)) {
			return "is " + s.kind + ", not a log in CSV", s.do
		}
	}
	if bytes.HasPrefix(start, []byte{0xFF, 0xFE}) || bytes.HasPrefix(start, []byte{0xFE, 0xFF}) {
		return "", ""
	}
	// A stray NUL spoils one row and is reported there. UTF-16 has one in nearly
	// every character, and other binary files have many.
	even, odd := nulsByParity(start)
	fewer, more := min(even, odd), max(even, odd)
	switch {
	case (even+odd)*10 <= len(start):
		return "", ""
	case more*3 >= len(start) && fewer*10 < more:
		return "looks like UTF-16 without a byte order mark",
			"save it as UTF-8, which spreadsheets call CSV UTF-8"
	}
	return "holds NUL bytes, so it is not text", nameTheLog
}

// nulsByParity counts the NUL bytes at even and at odd places.
func nulsByParity(data []byte) (even, odd int) {
	for i, b := range data {
		switch {
		case b != 0:
		case i%2 == 0:
			even++
		default:
			odd++
		}
	}
	return even, odd
}

// lineEnd names the line ends of a text by the first of them.
func lineEnd(window []byte) string {
	switch end := bytes.IndexByte(window, '\n'); {
	case end > 0 && window[end-1] == '\r':
		return "CRLF"
	case end >= 0:
		return "LF"
	case bytes.IndexByte(window, '\r') >= 0:
		return "CR"
	}
	return "" // one line, not ended
}

// crReader turns the carriage returns that end lines into line feeds.
type crReader struct{ r io.Reader }

func (c crReader) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	for i, b := range p[:n] {
		if b == '\r' {
			p[i] = '\n'
		}
	}
	return n, err
}

// cappedReader fails when more than its limit is there to be read.
type cappedReader struct {
	r           io.Reader
	left, limit int64
}

func (c *cappedReader) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	if c.left -= int64(n); c.left < 0 {
		return 0, fmt.Errorf("is larger than %d bytes, split it into smaller logs", c.limit)
	}
	return n, err
}

// guess passes UTF-8 on and turns Windows-1252, in which older spreadsheets save, into it.
// The first byte above ASCII decides for all that follows: it either begins a valid UTF-8
// character or it does not.
type guess struct {
	transform.NopResetter
	utf8   bool
	legacy transform.Transformer // set once the text has turned out to be Windows-1252
}

func (g *guess) Transform(dst, src []byte, atEOF bool) (written, read int, err error) {
	switch {
	case g.legacy != nil:
		return g.legacy.Transform(dst, src, atEOF)
	case g.utf8:
		return transform.Nop.Transform(dst, src, atEOF)
	}
	at := slices.IndexFunc(src, func(b byte) bool { return b >= utf8.RuneSelf })
	if at < 0 {
		return transform.Nop.Transform(dst, src, atEOF)
	}
	n := copy(dst, src[:at])
	switch {
	case n < at:
		return n, n, transform.ErrShortDst
	case !utf8.FullRune(src[at:]) && !atEOF:
		return n, n, transform.ErrShortSrc
	}
	if _, size := utf8.DecodeRune(src[at:]); size == 1 {
		g.legacy = charmap.Windows1252.NewDecoder()
	} else {
		g.utf8 = true
	}
	written, read, err = g.Transform(dst[n:], src[n:], atEOF)
	return n + written, n + read, err
}
