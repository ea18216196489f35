#!/bin/sh
# The call itself: help, version, wrong words, the terminal, lost output.
. "$(dirname "$0")/shop.inc"
"$maker" lid.png || exit 2
marks="--card $card --target left=$left --patch strip=$strip"

# ---- Help and version
run 0 help
says out 'shelf show'
is_empty err
run 0 --help
run 0 read --help
says out '--card-lab'
run 0 help shelf show
says out '--shelf'
run 0 help --json
json '{c["name"] for c in it["commands"]} == {"read","start","photo","advise","pass","coat","takeoff","jar","set","note","approve","fix","import","export","history","lamps","picture","report","page","check","pack","unpack","shelf show","shelf add","shelf remove","stepboard","camera learn","camera show","camera forget","help","version"}'
run 0 version
says out 'huewright 0.'
run 0 --version
says out 'huewright 0.'
run 0 version --json
json 'it["version"].count(".") == 2 and it["limits"]["side_px"] == 30000'

# ---- Wrong calls: standard error, 2, the nearest word
run 2
refused 'no command'
run 2 raed lid.png
refused 'Did you mean read?'
run 2 varnish job
refused 'The commands are: '
run 2 shelf
refused 'The commands are: '
run 2 read lid.png --tagret x
refused 'Did you mean --target?'
run 2 read lid.png --loudness 2
refused '--loudness'
run 2 pass job --jug 3
refused '--jug'
run 2 read lid.png -v
refused '-v'
run 2 read
refused 'PHOTO'
run 2 start bench two
refused 'two'
run 2 read lid.png --card
refused '--card R'
run 2 read lid.png --card --json
says err 'needs a value'
run 2 read lid.png --why=yes
refused 'no value'
run 2 read lid.png --marks a --marks b
refused 'twice'
run 2 read lid.png --target left
refused '='
run 2 --jsn help
refused '--jsn'
run 2 raed --json
json 'it["error"]["code"] == "command-unknown" and it["error"]["subject"] == "raed"'
run 2 help raed
refused 'raed'

# ---- Output that is lost
"$program" read lid.png $marks > /dev/full 2> err
[ $? -eq 4 ] && good || bad 'a full disk on standard output is exit 4'
says err 'could not be written'
"$program" read lid.png $marks >&- 2> err
[ $? -eq 4 ] && good || bad 'a closed standard output is exit 4'
says err 'could not be written'
{ "$program" help --json 2> err; echo $? > code; } | true
for word in "$(cat code)"; do # the pipe may still take it: then all is well
    [ "$word" = 4 ] || [ "$word" = 0 ] && good || bad "exit $word when the reader has left"
done
# A closed standard stream must not become a file of the job.
"$program" start closed >&- 2>&- < /dev/null
"$program" history closed > out 2> err
says out 'job started'
says_not closed/log.jsonl 'Started the job'

# ---- Two fields of colour: only on a terminal that can
run 0 read lid.png $marks
esc=$(printf '\033')
says_not out "$esc"
if command -v script > /dev/null; then
    on_terminal() { # ENVIRONMENT...
        env "$@" script -qec "'$program' read lid.png $marks" /dev/null > out 2> err < /dev/null
    }
    on_terminal TERM=xterm COLORTERM=truecolor
    says out "${esc}[48;2;119;119;119m"
    says out 'old wood'
    on_terminal TERM=xterm COLORTERM=24bit NO_COLOR=
    says out "${esc}[48;2;"
    on_terminal TERM=xterm COLORTERM=truecolor NO_COLOR=1
    says_not out "$esc"
    says out 'TONE IT'
    on_terminal TERM=xterm
    says_not out "$esc"
    on_terminal TERM=dumb COLORTERM=truecolor
    says_not out "$esc"
else
    echo 'not tested here: no script(1)'
fi
done_testing
