"""Temperatures and heat flows of ovens; knows no shapes."""

from .door import run
from .march import Histories
from .nodes import Build, Flow, Node, Weather
from .steady import Plateau, plateau

__all__ = ["Build", "Flow", "Histories", "Node", "Plateau", "Weather", "plateau", "run"]
