"""The shelf as a book: which bars and offcuts are there, where each came from and where it went.

Bar:       a length of tube with a number of its own, bought or left over.    Bookkeeping: item.
Place:     bought, shelf, kept, cut (into a piece), scrap.                    Bookkeeping: account.
Movement:  a length that goes from one place to another; never edited.       Bookkeeping: journal entry.
Operation: the movements of one command, all or none, with a key: the same key twice changes nothing.
Balance:   what lies at a place: always the sum of its movements, written nowhere.
Keeping:   a stock plan whose bars are kept for its vehicles, until they are cut or freed.
Given:     a number that was ever promised to a bar; no number is given twice.

Lengths are whole picometres, so that nine decimals of a millimetre and a 512th of an inch are exact.
"""
