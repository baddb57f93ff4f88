"""The graph of ports and its cheapest path: headings, sides and order that were left free, and each tube's centre line.

Port: a place where a tube starts or ends: the nose, a wheelbox's groove in, its groove out, the end stop.  Graph: node.
Tube: one piece between two ports.                                                                     Graph: edge.
Through: the rack's passage through a wheelbox, groove in to groove out.                               Graph: edge.
Run:  nose to end stop.                                                                                Graph: path.

The only door to networkx.
"""
