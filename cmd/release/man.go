package main

import (
	"fmt"
	"os/exec"
	"regexp"
	"strings"
	"time"
)

// manPages returns a manual page for each command of a program: its help, word for word. (cobra's
// own pages run the lines of the help together and word its flags anew.)
func manPages(program, version string, when time.Time) ([]file, error) {
	var pages []file
	var add func(command []string, short string) error
	add = func(command []string, short string) error {
		help, err := output(exec.Command(program, append(command[1:], "--help")...))
		if err != nil {
			return err
		}
		name := strings.Join(command, "-")
		pages = append(pages, file{"man/" + name + ".1", manPage(name, short, string(help), version, when), 0o644})
		for _, below := range commandsIn(string(help)) {
			if err := add(append(command[:len(command):len(command)], below[0]), below[1]); err != nil {
				return err
			}
		}
		return nil
	}
	err := add([]string{"regear"}, "which pinion of an electric RC car to run next")
	return pages, err
}

var commandLine = regexp.MustCompile(`(?m)^  (\S+) +(.*)$`)

// commandsIn returns the names of the commands that a help lists, with what is said of each.
// Those that cobra adds to every program need no page.
func commandsIn(help string) (commands [][2]string) {
	_, list, _ := strings.Cut(help, "Available Commands:\n")
	list, _, _ = strings.Cut(list, "\n\n")
	for _, m := range commandLine.FindAllStringSubmatch(list, -1) {
		if m[1] != "completion" && m[1] != "help" {
			commands = append(commands, [2]string{m[1], m[2]})
		}
	}
	return commands
}

// roff writes characters that the language of manual pages takes for something else by their
// names (groff_char(7)).
var roff = strings.NewReplacer(`\`, `\[rs]`, "-", `\-`, "'", `\[aq]`, "`", `\[ga]`, "^", `\[ha]`, "~", `\[ti]`, "\n.", "\n\\&.")

func manPage(name, short, help, version string, when time.Time) []byte {
	return fmt.Appendf(nil, `.TH %s 1 %s "regear %s"
.SH NAME
%s \- %s
.SH DESCRIPTION
.nf
%s.fi
`, strings.ToUpper(roff.Replace(name)), when.Format(time.DateOnly), version, roff.Replace(name), roff.Replace(short), roff.Replace(help))
}
