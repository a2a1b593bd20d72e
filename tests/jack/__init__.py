"""The companion on a real JACK server, judged from outside: processes play to it and listen.

`performer` and `receiver` are programs of their own that know JACK and MIDI and nothing of the
package under test; `performances` holds what is played, `ledger_audit` and `onsets` judge what
came back.
"""
