package main

import (
	"os"
	"testing"
)

// TestMain keeps the tester's own car file and logs out of every test, wherever
// the system has them.
func TestMain(m *testing.M) {
	os.Exit(inEmptyHome(m))
}

func inEmptyHome(m *testing.M) int {
	home, err := os.MkdirTemp("", "regear")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(home)
	for _, name := range []string{"HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "AppData", "LocalAppData"} {
		os.Setenv(name, home)
	}
	os.Unsetenv(carsVariable)
	os.Unsetenv(bookVariable)
	return m.Run()
}
