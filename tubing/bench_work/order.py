"""The order of the operations: what must come first comes first, and like work is done together."""

from __future__ import annotations

import networkx as nx

from tubing.bench_work.operations import operations
from tubing.bench_work.records import Does, Operation, Workshop
from tubing.errors import CheckError


class Step(Operation, frozen=True):
    """One operation in its place, with the places of those that it needs."""

    after: tuple[int, ...]  # indices of earlier steps


def order_of_work(shop: Workshop) -> tuple[Step, ...]:
    """Every operation still to do, so that each comes after all that it needs.

    Where nothing else decides, like operations come together in the order of ``Does``, and within one kind by the
    pieces' order from the motor. Raises CheckError where an operation needs what nothing makes.
    """
    every = operations(shop)
    makers = {fact: k for k, operation in enumerate(every) for fact in operation.makes}
    rank = list(Does)
    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(range(len(every)))
    for k, operation in enumerate(every):
        for fact in operation.needs:
            if fact not in makers:
                raise CheckError(
                    "order of work",
                    f"{operation.does} {operation.thing} needs {fact.thing} to be {fact.what}",
                    "an operation had to make that first",
                    "report this job, it is a fault of the program",
                )
            graph.add_edge(makers[fact], k)
    order = list(nx.lexicographical_topological_sort(graph, key=lambda k: (rank.index(every[k].does), k)))
    place = {k: at for at, k in enumerate(order)}
    return tuple(
        Step(
            does=every[k].does,
            thing=every[k].thing,
            at=every[k].at,
            needs=every[k].needs,
            makes=every[k].makes,
            after=tuple(sorted(place[before] for before in graph.predecessors(k))),
        )
        for k in order
    )
